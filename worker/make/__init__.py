"""Whole documents made from end to end: a pack, a single sheet, a class's print run.

`style` finds what a tone style needs of the whole picture and makes its pieces; `pack` makes a
pack or one sheet with it; `print_run` binds the packs of a class with separators and covers.
"""
