"""What is near to each other, and what hangs together by that."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]
_Floats = npt.NDArray[np.float32] | npt.NDArray[np.float64]


def pairs_within(points: Points, ones: _Ints, twos: _Ints, reach: float) -> tuple[_Ints, _Ints]:
    """Which of `ones` and which of `twos`, all points, are no further apart than `reach`."""
    # Rows of a transposed array are as fast as those of their own.
    a, b = (np.stack((points.x.take(each), points.y.take(each))).T for each in (ones, twos))
    return within(a, b, reach)


def ends_met(
    points: Points, chains: Chains, which: _Flags, reach: float, *, on: _Flags | None = None
) -> _Ints:
    """At how many of its ends each of some lines meets another.

    Args:
        points: All points.
        chains: The lines.
        which: Those that are asked of; others meet none.
        reach: How near that is, in pixels of the grid.
        on: The lines that count if they are met; all if none are given.
    """
    ends = np.concatenate((chains.first[:-1][which], chains.first[1:][which] - 1))
    if not len(ends):
        return np.zeros(len(chains), np.int64)
    owner, others = chains.owner, np.arange(len(chains.order))
    others = others if on is None else np.flatnonzero(on[owner])
    one, two = pairs_within(points, chains.order[ends], chains.order[others], reach)
    met = np.unique(one[owner[ends[one]] != owner[others[two]]])
    return np.bincount(owner[ends[met]], minlength=len(chains))


def within(ones: _Floats, others: _Floats, reach: float) -> tuple[_Ints, _Ints]:
    """Pairs of places of `ones` and `others` that are no further apart, by a grid.

    Args:
        ones: Places, (many, 2).
        others: Places, (many, 2), in the same unit.
        reach: How far apart, in that unit.
    """
    (x, y), (other_x, other_y) = (np.ascontiguousarray(each.T) for each in (ones, others))
    columns, cells, other_cells = _cells(ones, others, reach)
    order = _beside(cells, other_cells, columns)
    order = order.take(np.argsort(other_cells.take(order), kind="stable"))
    ranked, pairs = other_cells.take(order), []
    other_x, other_y = other_x.take(order), other_y.take(order)
    # A row at a time: of nine squares most is too far.
    for down in (-columns, 0, columns):
        low = np.searchsorted(ranked, cells + down - 1)
        count = np.searchsorted(ranked, cells + down + 1, side="right") - low
        one = np.repeat(np.arange(len(ones)), count)
        two = np.arange(len(one)) + np.repeat(low - (np.cumsum(count) - count), count)
        across = np.repeat(x, count) - other_x.take(two)
        aside = np.repeat(y, count) - other_y.take(two)
        near = np.flatnonzero(across**2 + aside**2 <= reach * reach)
        pairs.append((one.take(near), order.take(two.take(near))))
    one, two = (np.concatenate(part) for part in zip(*pairs, strict=True))
    return one, two


def _cells(ones: _Floats, others: _Floats, reach: float) -> tuple[int, _Ints, _Ints]:
    """How many columns of squares there are, and in which square each place is, row by row."""
    parts = [np.floor(each.T / reach).astype(np.int64) for each in (ones, others)]
    left = min(int(column.min(initial=0)) for column, _ in parts)
    # A column more on either side: the last of a row is no neighbour of the next row's first.
    columns = max(int(column.max(initial=0)) for column, _ in parts) - left + 4
    cells, other_cells = (row * columns + column - left for column, row in parts)
    return columns, cells, other_cells


def _beside(cells: _Ints, others: _Ints, columns: int) -> _Ints:
    """Which of the others may be near at all: those in a cell or next to one."""
    if 2 * len(cells) > len(others):
        return np.arange(len(others))
    around = cells + np.array([[-columns], [0], [columns]]) + np.arange(-1, 2)[:, None, None]
    least = min(int(around.min(initial=0)), int(others.min(initial=0)))
    most = max(int(around.max(initial=0)), int(others.max(initial=0)))
    near = np.zeros(most - least + 1, np.bool_)
    near[around - least] = True
    return np.flatnonzero(near.take(others - least))


def groups(count: int, one: _Ints, two: _Ints) -> _Ints:
    """A number for each of so many, the same for those that are paired, over any number of pairs.

    Args:
        count: How many there are.
        one: The first of each pair.
        two: The second.
    """
    number = np.arange(count)
    while True:
        least = number.copy()
        np.minimum.at(least, one, number[two])
        np.minimum.at(least, two, number[one])
        least = least[least]
        if np.array_equal(least, number):
            return number
        number = least
