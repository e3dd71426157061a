"""Which part of the reference fills the picture, and where it may lie."""
