"""Covers and separators of a class's packs.

`recipient` says who gets a pack, `headline` sets names and titles as large as they fit;
`separator` and `cover` draw the pages. `worker.make.print_run` binds them with the packs.
"""
