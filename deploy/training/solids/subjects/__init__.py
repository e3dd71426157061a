"""What solid scenes are of: tables, people, what is outdoors, and where it is put."""
