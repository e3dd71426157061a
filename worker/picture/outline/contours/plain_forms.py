"""Where the picture's own edges are plainer than any reading of them: lettering, stripes, signs.

Strokes of letters lie within a few pixels of the reading's map, which makes one band of two of
their edges. But what people made to be read is all of strong edges, close to each other on a quiet
ground; leaves, fur and stone have faint edges among their strong ones. So places are told by
edges alone: how much of strong edge there is around, and how little else. Lettering has edges in
many directions, of one ink on one ground: where they are so, less of them tells it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.edge_points import EDGE, Points
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
#: The same for lettering, of which no more than this is of one direction,
_INK_LEVELS, _INK_DENSE, _INK_DENSEST, _ONE_WAY = 40.0, 0.1, 0.35, 0.55
#: and whose edges, from so many levels on, deviate in contrast by no more than this part of the
#: mean; share and deviation are those of sure squares, then of what may be of the same lettering.
_EDGE_LEVELS, _SURE, _LIKELY = 25.0, (0.75, 0.22), (0.7, 0.28)
#: A row of letters is found by a few sure squares; it has so many more to either side.
_INK_ALIKE, _INK_CELLS = 0.28, 2
#: Plain squares within so many of lettering are of it, and gaps of twice so many are filled.
_REST_CELLS, _GAP_CELLS = 4, 2

_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class PlainForms:
    """Such places.

    Attributes:
        squares: (rows, columns) of squares.
        letters: Those of them that are of lettering.
        side_px: The side of each, in pixels of the grid.
    """

    squares: _Flags
    letters: _Flags
    side_px: float

    def within(self, x: Floats, y: Floats) -> _Flags:
        """Which places of the grid are in them."""
        return np.asarray(self.squares.take(_squares(x, y, self.squares.shape, self.side_px)))


def plain_forms(points: Points, shape: tuple[int, int], pitch_mm: float) -> PlainForms:
    """Where there are such forms.

    Args:
        points: Of edges.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
    """
    side_px = _CELL_MM / pitch_mm
    size = (int(shape[0] / side_px) + 1, int(shape[1] / side_px) + 1)
    around = _Around(at=_squares(points.x, points.y, size, side_px), size=size)
    letters, plain = _lettered(points, around, pitch_mm), _striped(points, around, pitch_mm)
    letters = _filled(letters | (plain & _grown(letters, _REST_CELLS)))
    return PlainForms(squares=letters | plain, letters=letters, side_px=side_px)


def _filled(squares: _Flags) -> _Flags:
    """With the gaps between squares: the ground between letters is quiet."""
    return np.asarray(squares | ~_grown(~_grown(squares, _GAP_CELLS), _GAP_CELLS))


def _grown(squares: _Flags, more: int) -> _Flags:
    """With so many more on each side."""
    return np.asarray(box_mean(squares.astype(np.float32), more) > 0)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Around:
    """Sums of values of points over squares and those around.

    Attributes:
        at: The square of each point.
        size: Rows and columns of squares.
    """

    at: npt.NDArray[np.int64]
    size: tuple[int, int]

    def __call__(self, values: Floats | _Flags) -> Floats:
        """(rows, columns)."""
        sums = np.bincount(self.at, values, self.size[0] * self.size[1]).astype(np.float32)
        return box_mean(box_mean(sums.reshape(self.size), _AROUND_CELLS), _AROUND_CELLS)


def _striped(points: Points, around: _Around, pitch_mm: float) -> _Flags:
    """Squares of strong edges alone, most of those around as well."""
    strong = around(points.contrast > np.float32(_STRONG_LEVELS))
    every = around(np.ones(len(points), np.bool_))
    # Points are a pixel apart.
    length = strong * np.float32(pitch_mm / _CELL_MM**2)
    dense = (length > np.float32(_DENSE)) & (length < np.float32(_DENSEST))
    alike = (dense & (strong > np.float32(_SHARE) * every)).astype(np.float32)
    seeds = alike * (box_mean(alike, _ALIKE_CELLS) > np.float32(_ALIKE))
    return np.asarray(box_mean(seeds, _ALIKE_CELLS) > np.float32(_ALIKE / 2))


def _lettered(points: Points, around: _Around, pitch_mm: float) -> _Flags:
    """Squares of edges of one contrast in many directions, some of those around as well."""
    strong = points.contrast > np.float32(_INK_LEVELS)
    many, every = around(strong), around(np.ones(len(points), np.bool_))
    length = many * np.float32(pitch_mm / _CELL_MM**2)
    alike = (length > np.float32(_INK_DENSE)) & (length < np.float32(_INK_DENSEST))
    alike &= _one_way(points, strong, around) < np.float32(_ONE_WAY) * many
    deviation = _deviation(points, around)
    sure, likely = (
        alike & (many > np.float32(share) * every) & (deviation < np.float32(most))
        for share, most in (_SURE, _LIKELY)
    )
    found = sure & (box_mean(sure.astype(np.float32), _ALIKE_CELLS) > np.float32(_INK_ALIKE))
    return _grown(found | (likely & _grown(found, _REST_CELLS)), _INK_CELLS)


def _one_way(points: Points, which: _Flags, around: _Around) -> Floats:
    """How many points run in one direction more than across it; angles count twice."""
    x, y = points.across_x, points.across_y
    return np.asarray(np.hypot(around(which * (x * x - y * y)), around(which * (2 * x * y))))


def _deviation(points: Points, around: _Around) -> Floats:
    """How far the contrast of edges deviates from its mean around, in parts of that."""
    edges = (points.kind == EDGE) & (points.contrast > np.float32(_EDGE_LEVELS))
    count = np.maximum(around(edges), np.float32(1e-3))
    mean = around(edges * points.contrast) / count
    square = around(edges * points.contrast * points.contrast) / count
    least = np.float32(_EDGE_LEVELS)
    return np.asarray(np.sqrt(np.maximum(square - mean * mean, 0)) / np.maximum(mean, least))


def _squares(x: Floats, y: Floats, size: tuple[int, ...], side_px: float) -> npt.NDArray[np.int64]:
    row = np.clip((y / side_px).astype(np.int64), 0, size[0] - 1)
    column = np.clip((x / side_px).astype(np.int64), 0, size[1] - 1)
    return row * size[1] + column
