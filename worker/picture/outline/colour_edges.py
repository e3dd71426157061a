"""Borders between colours that are equally light, which the search in grey cannot see.

The gradients of two channels of colour are one structure tensor, whose larger eigenvalue says
how fast colour changes and whose eigenvector whereto (Di Zenzo 1986). It is looked at on half
as many pixels each way, since cameras and compression keep no more of colour: a border's place
comes from grey wherever grey knows it, and from colour only where it does not.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from worker.picture.outline.canvas import HUE_PX, Bytes
from worker.picture.outline.edge_points import (
    EDGE,
    HUE,
    Points,
    Slopes,
    edges_of,
    flanking,
    joined,
    slopes_of,
)
from worker.picture.outline.smoothing import Floats

#: What a level of colour counts beside one of grey. Two colours that are equally light differ
#: to the eye (CIELAB) as much as 2.2 levels of grey for each level here, on the median, and
#: nine pairs in ten as much as 1.4 and more: so none is made more of than it is.
HUE_WEIGHT = 1.5
#: Grey knows a border's place where it has so much of the colour's contrast.
_KNOWN_SHARE = 0.3
#: Places along a border of colour, in pixels of grey from its point: points are two apart.
_ALONG_PX = (-1.0, 0.0, 1.0)
#: Places across: compression and lenses part colour from grey by a millimetre and more.
_ASIDE_PX = (-5.0, -4.0, -3.0, -2.0, 2.0, 3.0, 4.0, 5.0, -1.0, 0.0, 1.0)


def hue_slopes(
    hues: tuple[Bytes, ...] | tuple[Floats, ...], left: int, top: int, size: tuple[int, int]
) -> Slopes:
    """How fast colour changes, and whereto; its direction has no sign.

    Args:
        hues: Channels of a tile.
        left: Its first column, counted in these channels' pixels, as is all else.
        top: Its first row.
        size: Rows and columns of the whole.
    """
    one, *others = (slopes_of(values, left, top, size) for values in hues)
    across, down, both = one.gx * one.gx, one.gy * one.gy, one.gx * one.gy
    for other in others:
        across += other.gx * other.gx
        down += other.gy * other.gy
        both += other.gx * other.gy
    half = (across - down) * np.float32(0.5)
    spread = np.sqrt(half * half + both * both)
    larger = (across + down) * np.float32(0.5) + spread
    steep = np.sqrt(larger) * np.float32(HUE_WEIGHT)
    # Twice the angle has the cosine half / spread.
    cosine = half / np.maximum(spread, np.float32(1e-12))
    gx = steep * np.sqrt((1 + cosine) * np.float32(0.5))
    gy = steep * np.copysign(np.sqrt((1 - cosine) * np.float32(0.5)), both)
    return replace(one, gx=gx, gy=gy, steep=steep)


def with_hues(slopes: Slopes, points: Points, hues: Slopes, least: float) -> Points:
    """Points with the contrast of colour beside that of grey, and with borders of colour alone.

    Args:
        slopes: A tile in grey.
        points: Its points.
        hues: The tile in colour, with the same surroundings.
        least: Contrast of the faintest point of colour.
    """
    borders = _placed(edges_of(hues, least), slopes.size)
    if not len(borders):
        return points
    beside = flanking(slopes, points, borders, aside=_ASIDE_PX, along=_ALONG_PX)
    held = beside >= 0
    hue = np.where(held, borders.hue[beside], np.float32(0))
    known = held & (points.contrast >= np.float32(_KNOWN_SHARE) * hue)
    left = np.ones(len(borders), bool)
    left[beside[known]] = False
    # What grey has beside a border that it does not know is in its way.
    points = replace(points, hue=np.where(known & (points.kind == EDGE), hue, np.float32(0)))
    return _strongest(joined([points.taken(~held | known | ~left[beside]), borders.taken(left)]))


def _strongest(points: Points) -> Points:
    """One point on each pixel: an edge and a border of colour could else be linked as one."""
    again = np.flatnonzero(np.diff(points.key) == 0)
    shared = np.union1d(again, again + 1)
    order = shared[np.lexsort((-points.total[shared], points.key[shared]))]
    kept = np.ones(len(points), bool)
    kept[order[np.diff(points.key[order], prepend=-1) == 0]] = False
    return points.taken(kept)


def _placed(borders: Points, size: tuple[int, int]) -> Points:
    """Points of colour on the grid of grey, which has `size`."""
    row, column = np.divmod(borders.key, size[1] // HUE_PX)
    middle = np.float32((HUE_PX - 1) / 2)
    return replace(
        borders,
        key=((row * size[1] + column) * HUE_PX).astype(np.int32),
        x=borders.x * HUE_PX + middle,
        y=borders.y * HUE_PX + middle,
        contrast=np.zeros(len(borders), np.float32),
        hue=borders.contrast,
        kind=np.full(len(borders), HUE, np.uint8),
    )
