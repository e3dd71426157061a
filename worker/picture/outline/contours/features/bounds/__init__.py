"""What bounds a face and its hair: `jaws`, `hairlines` and `crowns`."""
