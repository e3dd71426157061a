"""Borders between regions as lines, from where three regions meet to where the next three do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.reading.regions.merging import Doubles, Ints

#: Two lines go on in each other where no other one comes.
_PASSED = 2

_Ways = dict[int, list[int]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Border:
    """A border of two regions.

    Attributes:
        corners: (places, 2), x and y in squares from the upper left; of a ring the first is the
            last as well.
        one, two: The squares, counted row by row, on either side of its middle.
    """

    corners: Doubles
    one: int
    two: int


def borders_of(labels: Ints) -> list[Border]:
    """All borders of regions.

    Args:
        labels: (rows, columns) the number of the region that each square is in.
    """
    wide = labels.shape[1] + 1
    ways = _ways(labels, wide)
    walked: set[tuple[int, int]] = set()
    # What begins nowhere is a ring, and is left over.
    starts = [corner for corner, on in ways.items() if len(on) != _PASSED]
    return [
        _border(_followed(ways, walked, corner, after), wide)
        for corner in [*starts, *ways]
        for after in ways[corner]
        if (corner, after) not in walked
    ]


def _ways(labels: Ints, wide: int) -> _Ways:
    """From each corner of squares the next ones along borders."""
    row, column = np.nonzero(labels[:, 1:] != labels[:, :-1])
    upright = row * wide + column + 1
    row, column = np.nonzero(labels[1:] != labels[:-1])
    level = (row + 1) * wide + column
    ways: _Ways = {}
    for starts, step in ((upright, wide), (level, 1)):
        for one in starts.tolist():
            ways.setdefault(one, []).append(one + step)
            ways.setdefault(one + step, []).append(one)
    return ways


def _followed(ways: _Ways, walked: set[tuple[int, int]], corner: int, after: int) -> list[int]:
    path = [corner, after]
    while True:
        walked.update(((path[-2], path[-1]), (path[-1], path[-2])))
        on = ways[path[-1]]
        if len(on) != _PASSED:
            return path
        after = on[0] if on[1] == path[-2] else on[1]
        if (path[-1], after) in walked:
            return path
        path.append(after)


def _border(path: list[int], wide: int) -> Border:
    middle = (len(path) - 1) // 2
    one, two = sorted(path[middle : middle + 2])
    # Squares are one fewer in a row than their corners.
    (row, column), columns = divmod(one, wide), wide - 1
    square = row * columns + column
    down, across = np.divmod(np.array(path), wide)
    return Border(
        corners=np.stack((across, down), axis=1).astype(np.float64),
        one=square - (1 if two - one == wide else columns),
        two=square,
    )
