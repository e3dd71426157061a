"""Printers: the test page, what was read off it, and sizes known by name."""
