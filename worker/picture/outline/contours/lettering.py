"""Edges of lettering, looked for anew with half of the smoothing.

Strokes of small letters are about as wide as two widths of the smoothing. There the edge of a
stroke and the middle of a thin line pass into each other: one stroke is drawn by its sides in one
part and by its middle in the next, and its corners are round. Lettering stands far above noise
and grain, which is what the smoothing is for, so that it can do with less.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.points.edge_points import (
    SLOPE_OF_STEP,
    Points,
    edges_of,
    gradients_of,
    joined,
    key_order,
)
from worker.picture.outline.points.gaussian import box_mean
from worker.picture.outline.points.linking import Ids, best_neighbours, mutual
from worker.picture.outline.points.sampled_picture import Bytes

#: Four pairs of neighbours have a sigma of one pixel. A step of 1 has this largest slope then,
#: by central differences.
_OFFSETS, _SLOPE = (1, 1, 1, 1), 0.3125
#: So many pixels are lost on each side by smoothing, differentiating, and comparing slopes.
_HALO_PX = 4
#: Edges of lettering have so many levels of contrast.
_LEVELS = 25.0
#: Sides of the tiles that are looked through.
_TILE_PX = 512
#: What was found before within so many pixels of them was found of them.
_INSTEAD_PX = 4

_Flags = npt.NDArray[np.bool_]


def with_lettering(points: Points, link: Ids, plain: PlainForms, grey: Bytes) -> tuple[Points, Ids]:
    """Points and links with the edges of lettering instead of what was found of it.

    Args:
        points: Of edges and thin lines, by key.
        link: Their neighbours.
        plain: Where lettering is.
        grey: The picture on its grid.
    """
    if not plain.letters.any():
        return points, link
    found = _edges(plain, grey)
    left = np.flatnonzero(~_near(found, grey.shape).take(points.key))
    parts = [points.taken(left), found]
    order = key_order(parts)
    whole = joined(parts, order)
    # The last key is what -1 stands for.
    wishes = np.append(points.key, np.int32(-1)).take(link.take(left, axis=0))
    wishes = np.concatenate((wishes, np.full((len(found), 2), -1, np.int32)))
    wishes = wishes.take(order, axis=0)
    # All within a square of lettering are linked anew, with those around them.
    anew, around = (_letters(plain, by).within(whole.x, whole.y) for by in (1, 2))
    wishes[anew] = best_neighbours(whole.taken(around), grey.shape[1])[anew[around]]
    return whole, mutual(whole.key, wishes)


def _letters(plain: PlainForms, more: int) -> PlainForms:
    """Those of lettering alone, with so many squares more on each side."""
    return replace(plain, squares=box_mean(plain.letters.astype(np.float32), more) > 0)


def _near(found: Points, shape: tuple[int, ...]) -> _Flags:
    """Pixels within reach of points, row by row; (rows * columns,)."""
    rows, columns = shape
    row, column = np.divmod(found.key, columns)
    near = np.zeros((rows, columns), np.bool_)
    for across in range(-_INSTEAD_PX, _INSTEAD_PX + 1):
        near[row, np.clip(column + across, 0, columns - 1)] = True
    beside = near.copy()
    for down in range(1, _INSTEAD_PX + 1):
        near[down:] |= beside[:-down]
        near[:-down] |= beside[down:]
    return near.ravel()


def _edges(plain: PlainForms, grey: Bytes) -> Points:
    """Edges of lettering, tile by tile."""
    letters, tiles = _letters(plain, 0), []
    for top in range(0, grey.shape[0], _TILE_PX):
        for left in range(0, grey.shape[1], _TILE_PX):
            first, last = (int(at / plain.side_px) for at in (top, top + _TILE_PX))
            begin, end = (int(at / plain.side_px) for at in (left, left + _TILE_PX))
            if plain.letters[first : last + 1, begin : end + 1].any():
                tiles.append((top, left))
    found = [_edges_of_tile(grey, *corner) for corner in tiles]
    return joined([edges.taken(letters.within(edges.x, edges.y)) for edges in found])


def _edges_of_tile(grey: Bytes, top: int, left: int) -> Points:
    """Edges whose pixels are in a tile."""
    (rows, columns), halo = grey.shape, _HALO_PX
    bottom, right = min(top + _TILE_PX, rows), min(left + _TILE_PX, columns)
    part = grey[max(top - halo, 0) : bottom + halo, max(left - halo, 0) : right + halo]
    down = max(halo - top, 0), max(bottom + halo - rows, 0)
    across = max(halo - left, 0), max(right + halo - columns, 0)
    gradients = gradients_of(
        np.pad(part, (down, across), mode="edge"),
        left - halo,
        top - halo,
        (rows, columns),
        _OFFSETS,
    )
    found = edges_of(gradients, _LEVELS * _SLOPE / SLOPE_OF_STEP)
    return replace(found, contrast=found.contrast * np.float32(SLOPE_OF_STEP / _SLOPE))
