"""Whole things made from end to end: one pack, one sheet again, a class's print run."""
