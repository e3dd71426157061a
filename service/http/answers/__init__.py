"""What goes out: documents, headers and problems."""
