"""The path through a strip along which a line is worth most, found exactly.

Dynamic programming from column to column (Amini, Weymouth and Jain, "Using dynamic programming for
solving variational problems in vision", PAMI 1990).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

_Values = npt.NDArray[np.float32] | npt.NDArray[np.float64]
_Ints = npt.NDArray[np.int64]


def best_path(worth: _Values, costs: Sequence[float]) -> _Ints:
    """The row of each column along which a line is worth most, from the first to the last.

    Args:
        worth: (..., rows, columns) of a line there; of each of many parts at once.
        costs: What it costs to go one row up or down, two rows, and so on; it goes no further from
            column to column.

    Returns:
        (..., columns).
    """
    *many, rows, columns = worth.shape
    reach = len(costs)
    padded = np.full((columns, math.prod(many), rows + 2 * reach), -np.inf, worth.dtype)
    middle = padded[..., reach : reach + rows]
    middle[...] = np.moveaxis(worth.reshape(-1, rows, columns), -1, 0)
    # Each row's neighbours, from the nearest on.
    beside = [
        (padded[..., reach - step :][..., :rows], padded[..., reach + step :][..., :rows])
        for step in range(1, reach + 1)
    ]
    paid = [worth.dtype.type(cost) for cost in costs]
    best, either = np.empty_like(middle[0]), np.empty_like(middle[0])
    around = [values for pair in beside for values in pair]
    further = list(zip(paid[1:], range(2, 2 * reach, 2), strict=True))
    for here, after, *near in zip(middle, middle[1:], *around, strict=False):
        np.maximum(near[0], near[1], out=best)
        np.subtract(best, paid[0], out=best)
        for cost, pair in further:
            np.maximum(near[pair], near[pair + 1], out=either)
            np.subtract(either, cost, out=either)
            np.maximum(best, either, out=best)
        np.maximum(best, here, out=best)
        np.add(after, best, out=after)
    ends = middle[-1].argmax(axis=-1).tolist()
    # Plain numbers: a walk asks for one after another, each of which takes an array as long.
    steps = _ways_back(middle, beside, paid).swapaxes(0, 1).tolist()
    paths = [_walked(each, end) for each, end in zip(steps, ends, strict=True)]
    return np.array(paths, np.int64).reshape(*many, columns)


def _ways_back(
    middle: _Values, beside: list[tuple[_Values, _Values]], paid: Sequence[np.floating]
) -> npt.NDArray[np.int8]:
    """How far from every row of all columns the one before is; of equal rows it is the first."""
    best = beside[-1][0] - paid[-1]
    way = np.full(best.shape, -len(beside), np.int8)
    for step in range(1 - len(beside), len(beside) + 1):
        far = abs(step)
        there = beside[far - 1][step > 0] - paid[far - 1] if far else middle
        way[there > best] = step
        np.maximum(best, there, out=best)
    return way


def _walked(ways: list[list[int]], row: int) -> list[int]:
    """The rows of a way to its last one; `ways` says of each row how far the one before is."""
    rows = [row]
    for way in ways[-2::-1]:
        row += way[row]
        rows.append(row)
    return rows[::-1]
