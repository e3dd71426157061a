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
    near = np.zeros(grey.size, np.float32)
    near[found.key] = 1
    near = box_mean(near.reshape(grey.shape), _INSTEAD_PX).ravel()
    left = near[points.key] <= 0
    whole = joined([points.taken(left), found])
    keys = np.concatenate((points.key[left], found.key))
    wishes = np.where(link >= 0, points.key[link], -1)[left]
    wishes = np.concatenate((wishes, np.full((len(found), 2), -1)))[
        np.argsort(keys, kind="stable")
    ].astype(np.int32)
    # All within a square of lettering are linked anew, with those around them.
    anew, around = (_letters(plain, by).within(whole.x, whole.y) for by in (1, 2))
    wishes[anew] = best_neighbours(whole.taken(around), grey.shape[1])[anew[around]]
    return whole, mutual(whole.key, wishes)


def _letters(plain: PlainForms, more: int) -> PlainForms:
    """Those of lettering alone, with so many squares more on each side."""
    return replace(plain, squares=box_mean(plain.letters.astype(np.float32), more) > 0)


def _edges(plain: PlainForms, grey: Bytes) -> Points:
    """Edges of the box around all lettering that lie in it."""
    (top, bottom), (left, right) = (
        _span(np.asarray(plain.letters.any(axis=1 - axis)), plain.side_px, grey.shape[axis])
        for axis in (0, 1)
    )
    part = np.pad(grey, _HALO_PX, mode="edge")[
        top : bottom + 2 * _HALO_PX, left : right + 2 * _HALO_PX
    ]
    size = (grey.shape[0], grey.shape[1])
    gradients = gradients_of(part, left - _HALO_PX, top - _HALO_PX, size, _OFFSETS)
    found = edges_of(gradients, _LEVELS * _SLOPE / SLOPE_OF_STEP)
    found = replace(found, contrast=found.contrast * np.float32(SLOPE_OF_STEP / _SLOPE))
    return found.taken(_letters(plain, 0).within(found.x, found.y))


def _span(flags: _Flags, side_px: float, most: int) -> tuple[int, int]:
    """From which pixel to which some squares are."""
    at = np.flatnonzero(flags)
    return int(at[0] * side_px), min(int((at[-1] + 1) * side_px) + 1, most)
