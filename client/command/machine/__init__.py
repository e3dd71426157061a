"""Commands for the machine: serve, open, check."""
