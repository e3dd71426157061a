"""Places that edges run round, with dark inside: candidates of eyes.

Each edge speaks for a middle at some distance on its dark side, as in the fast radial symmetry
transform (Loy and Zelinsky, "Fast radial symmetry for detecting points of interest", PAMI 2003).
Not how strong edges are counts here but from how many sides they come: hair has strong edges.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles, Ints
from worker.picture.outline.points.edge_points import EDGE, Points

#: Radii that are looked for: what is smaller is drawn as a dot, what is larger edges draw well.
#: From each to the next it is this factor.
_LEAST_MM, _MOST_MM, _FACTOR = 4.0, 64.0, math.sqrt(2)
#: Nor fewer pixels than this, nor more than this part of the picture.
_LEAST_PX, _LARGEST = 5.0, 0.25
#: Edges with fewer levels of contrast say nothing.
_LEVELS = 20.0
#: Middles are counted in squares of this part of the radius, and over those beside them.
_CELLS = 1 / 3
#: Sides that edges may come from, and from how many of them they do.
_SIDES, _FROM = 8, 7
#: Edges are a pixel apart: of larger discs every so manieth pixel of the radius is enough.
_EVERY_PX = 12.0

_Values = TypeVar("_Values", npt.NDArray[np.uint8], npt.NDArray[np.float32])
_SIDES_OF = np.array([number.bit_count() for number in range(1 << _SIDES)], np.uint8)


def dark_discs(points: Points, shape: tuple[int, int], pitch_mm: float) -> Doubles:
    """Candidates, those that most edges speak for first.

    Args:
        points: Of edges.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.

    Returns:
        (discs, 3): across and down of the middle, and the radius, in pixels of the grid.
    """
    which = (points.kind == EDGE) & (points.contrast > np.float32(_LEVELS))
    places = np.stack((points.x[which], points.y[which]), axis=1)
    ways = np.stack((points.across_x[which], points.across_y[which]), axis=1)
    side = (np.arctan2(ways[:, 1], ways[:, 0]) * (_SIDES / (2 * np.pi)) % _SIDES).astype(np.int64)
    radius, found = max(_LEAST_MM / pitch_mm, _LEAST_PX), [np.zeros((0, 4))]
    while radius < min(_MOST_MM / pitch_mm, _LARGEST * min(shape)):
        some = slice(None, None, max(1, int(radius / _EVERY_PX)))
        # Edges point from dark to light.
        middles = places[some] - np.float32(radius) * ways[some]
        found.append(_voted(middles, side[some] % _SIDES, shape, radius))
        radius *= _FACTOR
    discs = np.concatenate(found)
    return discs[np.argsort(-discs[:, 3], kind="stable"), :3]


def _voted(
    middles: npt.NDArray[np.float32], side: Ints, shape: tuple[int, int], radius: float
) -> Doubles:
    """Middles of one radius that edges speak for, and the share of its rim that does: (any, 4)."""
    cell = radius * _CELLS
    rows, columns = (int(length / cell) + 1 for length in shape)
    column, row = np.floor(middles / np.float32(cell)).astype(np.int64).T
    inside = (column >= 0) & (row >= 0) & (column < columns) & (row < rows)
    at = (row * columns + column)[inside]
    seen = np.zeros(rows * columns * _SIDES, np.bool_)
    seen[at * _SIDES + side[inside]] = True
    sides = _SIDES_OF[_around(np.packbits(seen).reshape(rows, columns), np.bitwise_or)]
    votes = np.bincount(at, minlength=rows * columns).reshape(rows, columns).astype(np.float32)
    votes = _around(votes, np.add)
    y, x = np.nonzero((sides >= _FROM) & (votes == _around(votes, np.maximum)))
    share = votes[y, x] / (2 * np.pi * min(radius, _EVERY_PX))
    return np.stack(((x + 0.5) * cell, (y + 0.5) * cell, np.full(len(x), radius), share), axis=1)


def _around(values: _Values, joined: np.ufunc) -> _Values:
    """Values with those of the squares beside them."""
    beside = values.copy()
    joined(beside[1:], values[:-1], out=beside[1:])
    joined(beside[:-1], values[1:], out=beside[:-1])
    whole = beside.copy()
    joined(whole[:, 1:], beside[:, :-1], out=whole[:, 1:])
    joined(whole[:, :-1], beside[:, 1:], out=whole[:, :-1])
    return whole
