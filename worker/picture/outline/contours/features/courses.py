"""Courses of lines in strips: of all that bend slowly, the one that is seen best.

It is found exactly, from end to end of the strip (dynamic programming).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from worker.picture.outline.contours.features.bands import (
    Doubles,
    centred,
    closed_path,
    fair,
    fair_ring,
)
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.strips import (
    Strip,
    extended,
    strip,
    valley,
)
from worker.picture.outline.points.gaussian import Floats
from worker.reading.best_paths import best_path

#: A line with given ends goes so many rows from its curve for each column from them.
_LEAVES = 0.5
#: What no line is worth; and it is where it is worth most so many rows around.
_NEVER, _HIGHEST = 1e3, 2
#: Landmarks are displaced together by what so many clear places say; what a bend costs, and what is
#: smoothed, on the way.
_STAYS, _SHIFT_BENDS, _SHIFT_FAIR = 2.0, 0.25, 12.0
#: Ends of dark lines: how far from landmarks, in sides; beside how many rows; and as dark as what,
#: in levels.
_ENDS_REACH, _ENDS_BESIDE, _ENDS_DARK = 0.021, 3, 10.0


def course(worth: Doubles | Floats, *, of_row: float, length: float, held: bool = False) -> Doubles:
    """The row of each column where a line lies best, to a fraction.

    Args:
        worth: (rows, columns) of a line there.
        of_row: What it costs to go one row up or down.
        length: Waves of so many columns are smoothed.
        held: Whether both ends are the curve's, in the middle row.
    """
    rows, columns = worth.shape
    values = np.asarray(worth - worth.min(axis=0), np.float32)
    if held:
        # A line leaves its ends slowly.
        end = np.minimum(np.arange(columns), np.arange(columns)[::-1])
        far = np.abs(np.arange(rows) - rows // 2)[:, None] > end * _LEAVES
        values = np.where(far, np.float32(-_NEVER), values)
    path = best_path(values, (of_row,))
    found = centred(np.maximum(values, 0), np.arange(columns), path, _HIGHEST)
    if held:
        found[[0, -1]] = rows // 2
    return fair(found, length, held=held)


def closed_course(worth: Doubles | Floats, *, of_row: float, length: float) -> Doubles:
    """The same around a ring, whose last column goes on in its first one."""
    values = np.asarray(worth - worth.min(axis=0), np.float32)
    path = closed_path(values, of_row)
    return fair_ring(centred(values, np.arange(values.shape[1]), path, _HIGHEST), length)


def displaced(seen: Sequence[tuple[Strip, Floats]]) -> Doubles:
    """How far some landmarks are off together, across and down, in pixels of the part.

    A network errs alike for a whole eye or mouth. Each strip tells how far its line is to one
    side; of all together the shift follows by least squares.

    Args:
        seen: Strips beside landmarks, and how well a line would lie at each place.
    """
    matrix, off = _STAYS * np.eye(2), np.zeros(2)
    for one, values in seen:
        rows = course(values - one.usual, of_row=_SHIFT_BENDS, length=_SHIFT_FAIR)
        weight = np.maximum(seen_along(values, rows), 0)[:, None]
        matrix += (weight * one.normal).T @ one.normal
        off += (weight * one.normal).T @ (rows - one.reach) * one.step
    return np.asarray(np.linalg.solve(matrix, off))


def seen_along(values: Floats | Doubles, rows: Doubles, mean: int = 7) -> Floats:
    """Values of a strip along a course, on the mean of so many columns."""
    at = np.clip(np.rint(rows).astype(np.int64), 0, len(values) - 1)
    line, half = values[at, np.arange(len(at))], mean // 2
    along = np.concatenate((line[:1].repeat(half), line, line[-1:].repeat(half)))
    return np.asarray(np.convolve(along, np.full(mean, 1 / mean), "valid"), np.float32)


def best_run(worth: Doubles | Floats) -> tuple[int, int]:
    """First and last of the run that is worth most (Kadane); what is not seen is worth below 0."""
    sums = np.concatenate(([0.0], np.cumsum(worth, dtype=np.float64)))
    gains = sums - np.minimum.accumulate(sums)
    last = int(gains.argmax())
    return int(sums[: last + 1].argmin()), last


def dark_ends(part: FacePart, curve: Doubles, more: int, darker: float) -> Doubles:
    """Where a dark line along a curve ends: (2, 2).

    Args:
        part: Of the face.
        curve: Through landmarks.
        more: It goes on beyond them by so many places at most.
        darker: As long as it is so many levels darker than beside it.
    """
    beside = strip(part, extended(curve, more, more), _ENDS_REACH)
    dark = valley(beside.of(part.grey), _ENDS_BESIDE) / part.tone
    worth = np.clip(dark / _ENDS_DARK, -1, 2.5) - beside.usual
    rows = course(worth, of_row=_SHIFT_BENDS, length=_SHIFT_FAIR)
    line, seen = beside.places(rows), seen_along(dark, rows, 3) > darker
    # From landmarks' ends on as long as it is dark.
    left = int(np.argmin(np.append(seen[:more][::-1], False)))
    right = int(np.argmin(np.append(seen[len(line) - more :], False)))
    return line[[more - left, len(line) - 1 - more + right]]
