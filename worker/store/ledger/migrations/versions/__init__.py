"""One module per step, named by number."""
