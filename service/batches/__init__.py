"""Packs for a class in one step: planned line by line, watched and fetched as one."""
