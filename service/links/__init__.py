"""Links to one file, which open it without a key for some minutes."""
