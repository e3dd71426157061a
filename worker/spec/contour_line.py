"""How much line a reading holds: length of contours per area, by how surely and what they are.

Length is counted by the Cauchy-Crofton formula, as in the detail map: a curve of length L is
crossed by parallel lines a distance d apart, averaged over all directions, 2 L / (pi d) times.
Along a row, a map that rises to 1 on a line and falls to 0 beside it changes by 2 at each
crossing, however wide the ridge is and wherever its middle lies between pixels. So half of all
change along rows, columns and both diagonals gives the length of the ridges, without looking
for their middles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import reduce

import numpy as np
import numpy.typing as npt

from worker.spec.reading import Reading

Floats = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]
Shorts = npt.NDArray[np.int16]

#: Cells are so many pixels of the reading wide and high.
CELL_PX = 2
#: Shares of likelihood between which a place turns from no line into line. On drawings whose
#: lines are known, with and without grain, the first pair counts their length to 3 %.
_LIKELY, _SURELY = (0.3, 0.7), (0.6, 0.95)
#: What a millimetre of line is worth: that of an inner contour is 1, an outer one is worth as
#: much more, a fold or mark as much less.
_OUTER_MORE, _MARK_LESS = 1.0, 0.5
#: Kinds are told on the middle of a ridge, whose sides are so many pixels away at most.
_SIDE_PX = 3
#: A place is as sure as can be from here on; below, the detail map counts too.
_SURE_ENOUGH = 0.5
#: Weights of changes along rows and columns and along diagonals, which lie 1/sqrt 2 apart:
#: small integers keep a picture within 16 bits, and are 1 % off.
_STRAIGHT, _DIAGONAL = 7, 5
#: Length of an edge for each part of change, made true on the mean over all angles.
_LENGTH = math.pi / 8 / _STRAIGHT * 2 / (1 + _DIAGONAL / _STRAIGHT * math.sqrt(2))


@dataclass(frozen=True, kw_only=True, eq=False)
class ContourLine:
    """Line per area, each map (rows, columns) over the whole upright reference.

    Attributes:
        outlines: Length of sure outer contours in pixels of the reading, per square pixel.
        contours: Length of all likely contours, as `outlines`.
        likely: 0 to 1: how likely contours pass here.
        worth: What a millimetre of contour counts for here.
        sure: 0 to 1: where it is less than 1, the reading does not know enough.
        columns_px: How many pixels of the reading the reference is wide.
    """

    outlines: Floats
    contours: Floats
    likely: Floats
    worth: Floats
    sure: Floats
    columns_px: int

    @property
    def known(self) -> bool:
        """Whether anything was read at all."""
        return bool(self.sure.any())


def contour_line(reading: Reading) -> ContourLine:
    """Count the line of a reading; once for each study, since no spec changes it."""
    outer, mark = (
        _in_cells(_near(kind)) / np.float32(255) for kind in (reading.outer, reading.mark)
    )
    worth = 1 + np.float32(_OUTER_MORE) * outer - np.float32(_MARK_LESS) * mark
    sure = _in_cells(reading.sure) / np.float32(255 * _SURE_ENOUGH)
    return ContourLine(
        outlines=_ridge_length(reading.contour, *_SURELY) * outer,
        contours=_ridge_length(reading.contour, *_LIKELY),
        likely=_in_cells(reading.contour) / np.float32(255),
        worth=worth,
        sure=np.minimum(sure, np.float32(1)),
        columns_px=reading.contour.shape[1],
    )


def edge_length(values: Shorts) -> Floats:
    """Length of edges per area, in pixels per square pixel, a step of 1 counted once.

    Four directions are within 6 % for a straight edge at any angle, and better for all that
    bends.

    Args:
        values: (rows, columns), 0 to 255.
    """
    return _change(values) * np.float32(_LENGTH)


def _ridge_length(likely: Bytes, low: float, high: float) -> Floats:
    """Length of ridges per area in cells: places below `low` are no line, above `high` are."""
    shares = np.clip((np.arange(256) / 255 - low) / (high - low), 0, 1)
    steps = np.rint(shares * 255).astype(np.int16)
    # Each ridge is crossed by its two sides.
    return _in_cells(_change(steps[likely])) * np.float32(_LENGTH / 255 / 2)


def _change(values: Shorts) -> Shorts:
    """Weighted change between neighbours; the last row and column have none beyond them."""
    padded = np.pad(values, ((0, 1), (0, 1)), mode="edge")
    here, right = padded[:-1, :-1], padded[:-1, 1:]
    below, diagonal = padded[1:, :-1], padded[1:, 1:]
    straight = np.abs(here - right) + np.abs(here - below)
    slanted = np.abs(here - diagonal) + np.abs(right - below)
    change: Shorts = straight * np.int16(_STRAIGHT) + slanted * np.int16(_DIAGONAL)
    return change


def _near(kind: Bytes) -> Bytes:
    """The most of each neighbourhood: what the middle of a ridge says of its sides."""
    for _ in range(2):
        # Down one axis and then, turned, down the other.
        padded = np.pad(kind, ((_SIDE_PX, _SIDE_PX), (0, 0)), mode="edge")
        parts = (padded[at : at + len(kind)] for at in range(2 * _SIDE_PX + 1))
        kind = np.ascontiguousarray(reduce(np.maximum, parts).T)
    return kind


def _in_cells(values: Bytes | Shorts) -> Floats:
    """Means of square cells."""
    fill = [(0, -side % CELL_PX) for side in values.shape]
    padded = np.pad(values.astype(np.int32), fill, mode="edge")
    rows = padded[::CELL_PX] + padded[1::CELL_PX]
    sums = rows[:, ::CELL_PX] + rows[:, 1::CELL_PX]
    return np.asarray(sums / np.float32(CELL_PX**2), np.float32)
