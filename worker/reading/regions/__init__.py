"""Regions that differ as wholes, and their borders: what a contour map is too near to see.

`merging` grows regions, `tracing` follows the borders between them, `placing` moves these onto the
picture's own edges, and `silhouettes` says how far each is the outline of what the picture is of.
"""
