"""Where the picture's own edges are plainer than any reading of them: lettering, stripes, signs.

Strokes of letters lie within a few pixels of the reading's map, which makes one band of two of
their edges. But what people made to be read is all of strong edges, close to each other on a quiet
ground; leaves, fur and stone have faint edges among their strong ones. So places are told by
edges alone: how much of strong edge there is around, and how little else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats, box_mean

#: Squares that are looked at, and over how many to either side values are averaged, twice.
_CELL_MM, _AROUND_CELLS = 4.0, 1
#: A strong edge has so many levels of contrast; so many mm of it are in a mm², at least and at
#: most, and such a share of all points is of strong edges. What is denser is rough, or too small
#: to be read.
_STRONG_LEVELS, _DENSE, _DENSEST, _SHARE = 60.0, 0.15, 0.4, 0.8
#: One square alone is a rim or a corner: so many of the squares around must be alike, of so many
#: to either side; then all of these within one square more.
_ALIKE, _ALIKE_CELLS = 0.5, 3

_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class PlainForms:
    """Squares of such places: (rows, columns), and the side of each in pixels of the grid."""

    squares: _Flags
    side_px: float

    def within(self, x: Floats, y: Floats) -> _Flags:
        """Which places of the grid are in them."""
        return np.asarray(self.squares.ravel()[_squares(x, y, self.squares.shape, self.side_px)])


def plain_forms(points: Points, shape: tuple[int, int], pitch_mm: float) -> PlainForms:
    """Where there are such forms.

    Args:
        points: Of edges.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
    """
    side_px = _CELL_MM / pitch_mm
    size = (int(shape[0] / side_px) + 1, int(shape[1] / side_px) + 1)
    at = _squares(points.x, points.y, size, side_px)

    def around(flags: _Flags) -> Floats:
        counts = np.bincount(at, flags, size[0] * size[1]).astype(np.float32).reshape(size)
        return box_mean(box_mean(counts, _AROUND_CELLS), _AROUND_CELLS)

    strong = around(points.contrast > np.float32(_STRONG_LEVELS))
    every = around(np.ones(len(points), np.bool_))
    # Points are a pixel apart.
    length = strong * np.float32(pitch_mm / _CELL_MM**2)
    dense = (length > np.float32(_DENSE)) & (length < np.float32(_DENSEST))
    alike = (dense & (strong > np.float32(_SHARE) * every)).astype(np.float32)
    seeds = alike * (box_mean(alike, _ALIKE_CELLS) > np.float32(_ALIKE))
    return PlainForms(
        squares=box_mean(seeds, _ALIKE_CELLS) > np.float32(_ALIKE / 2), side_px=side_px
    )


def _squares(x: Floats, y: Floats, size: tuple[int, ...], side_px: float) -> npt.NDArray[np.int64]:
    row = np.clip((y / side_px).astype(np.int64), 0, size[0] - 1)
    column = np.clip((x / side_px).astype(np.int64), 0, size[1] - 1)
    return row * size[1] + column
