"""Borders between colours of equal lightness, which the search in grey cannot find.

The gradients of the two chroma channels form one structure tensor. Its larger eigenvalue says
how fast colour changes, its eigenvector in which direction (Di Zenzo 1986). Chroma has half as
many pixels each way, since cameras and compression keep no more of it, and is smoothed twice
as far, which removes JPEG's blocks. So the place of a border comes from grey wherever grey has
an edge too, and from chroma only where it has none. A grey photo gives the same bytes as if
this module did not exist.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from worker.picture.outline.points.edge_points import (
    CHROMA,
    EDGE,
    Gradients,
    Points,
    edges_of,
    flanking,
    gradients_of,
    joined,
    rows_and_columns,
)
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import CHROMA_PX, Bytes

#: Weight of a level of chroma against a level of grey. Two colours of equal lightness differ to
#: the eye (CIELAB) as much as 2.2 levels of grey for each level of chroma in the median, and
#: 1.4 or more for nine pairs in ten: so no border is made stronger than it looks.
CHROMA_WEIGHT = 1.5
#: Grey knows a border's place where it has so much of the colour's contrast.
_KNOWN_SHARE = 0.3
#: Places along a border of colour, in pixels of grey from its point: points are two apart.
_ALONG_PX = (-1.0, 0.0, 1.0)
#: Places across: compression and lenses part colour from grey by a millimetre and more.
_ASIDE_PX = (-5.0, -4.0, -3.0, -2.0, 2.0, 3.0, 4.0, 5.0, -1.0, 0.0, 1.0)


def chroma_gradients(
    chroma: tuple[Bytes, ...] | tuple[Floats, ...], left: int, top: int, size: tuple[int, int]
) -> Gradients:
    """Gradients of chroma: how fast colour changes, and in which direction (without sign).

    Args:
        chroma: The channels of a tile, (rows, columns) each.
        left: Its first column, in pixels of these channels, as are the other arguments.
        top: Its first row.
        size: Rows and columns of the whole.
    """
    one, *others = (gradients_of(values, left, top, size) for values in chroma)
    across, down, both = one.gx * one.gx, one.gy * one.gy, one.gx * one.gy
    for other in others:
        across += other.gx * other.gx
        down += other.gy * other.gy
        both += other.gx * other.gy
    half = (across - down) * np.float32(0.5)
    spread = np.sqrt(half * half + both * both)
    larger = (across + down) * np.float32(0.5) + spread
    steep = np.sqrt(larger) * np.float32(CHROMA_WEIGHT)
    # Twice the angle has the cosine half / spread.
    cosine = half / np.maximum(spread, np.float32(1e-12))
    gx = steep * np.sqrt((1 + cosine) * np.float32(0.5))
    gy = steep * np.copysign(np.sqrt((1 - cosine) * np.float32(0.5)), both)
    return replace(one, gx=gx, gy=gy, steep=steep)


def with_chroma(
    gradients: Gradients, points: Points, chroma_gradients: Gradients, least: float
) -> Points:
    """Points with the contrast of colour beside that of grey, and with borders of colour alone.

    Args:
        gradients: A tile in grey.
        points: Its points.
        chroma_gradients: The tile in colour, with the same surroundings.
        least: Contrast of the faintest point of colour, in levels.
    """
    borders = _placed(edges_of(chroma_gradients, least), gradients.size)
    if not len(borders):
        return points
    beside = flanking(gradients, points, borders, aside=_ASIDE_PX, along=_ALONG_PX)
    held = beside >= 0
    chroma = np.where(held, borders.chroma[beside], np.float32(0))
    known = held & (points.contrast >= np.float32(_KNOWN_SHARE) * chroma)
    left = np.ones(len(borders), bool)
    left[beside[known]] = False
    # What grey has beside a border that it does not know is in its way.
    points = replace(points, chroma=np.where(known & (points.kind == EDGE), chroma, np.float32(0)))
    return _strongest(joined([points.taken(~held | known | ~left[beside]), borders.taken(left)]))


def _strongest(points: Points) -> Points:
    """One point on each pixel: an edge and a border of colour could else be linked as one."""
    again = np.flatnonzero(np.diff(points.key) == 0)
    shared = np.union1d(again, again + 1)
    some = points.taken(shared)
    order = np.lexsort((-some.total, some.key))
    kept = np.ones(len(points), bool)
    kept[shared[order[np.diff(some.key[order], prepend=-1) == 0]]] = False
    return points.taken(kept)


def _placed(borders: Points, size: tuple[int, int]) -> Points:
    """Points of colour on the grid of grey, which has `size`."""
    row, column = rows_and_columns(borders.key, size[1] // CHROMA_PX)
    middle = np.float32((CHROMA_PX - 1) / 2)
    return replace(
        borders,
        key=((row * size[1] + column) * CHROMA_PX).astype(np.int32),
        x=borders.x * CHROMA_PX + middle,
        y=borders.y * CHROMA_PX + middle,
        contrast=np.zeros(len(borders), np.float32),
        chroma=borders.contrast,
        kind=np.full(len(borders), CHROMA, np.uint8),
    )
