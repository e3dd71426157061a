"""What is near to each other, and what hangs together by that."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Floats, Ints


def within(ones: Floats, others: Floats, reach_mm: float) -> tuple[Ints, Ints]:
    """Pairs of places of `ones` and `others` that are no further apart, by squares.

    Args:
        ones: Places, (many, 2).
        others: Places, (many, 2).
        reach_mm: How far apart.
    """
    # A square more on each side: what is in none has no neighbour at the other side.
    x, y = (np.concatenate((ones[:, at], others[:, at])) for at in (0, 1))
    column, row = (np.floor(each * (1 / reach_mm)).astype(np.int64) for each in (x, y))
    column -= column.min(initial=0) - 1
    row -= row.min(initial=0) - 1
    columns, rows = int(column.max(initial=0)) + 2, int(row.max(initial=0)) + 2
    keys, key = np.split(column * rows + row, [len(ones)])
    around = np.zeros(columns * rows, np.bool_)
    for across in (-rows, 0, rows):
        for down in (-1, 0, 1):
            around[keys + across + down] = True
    # Most places are near to none.
    order = np.flatnonzero(around[key])
    order = order[np.argsort(key[order], kind="stable")]
    ranked, one, two = key[order], [], []
    for across in (-rows, 0, rows):
        first = np.searchsorted(ranked, keys + across - 1)
        many = np.searchsorted(ranked, keys + across + 1, "right") - first
        one.append(np.repeat(np.arange(len(ones)), many))
        step = np.arange(len(one[-1])) - np.repeat(np.cumsum(many) - many - first, many)
        two.append(order[step])
    left, right = np.concatenate(one), np.concatenate(two)
    apart_x, apart_y = (ones[left, at] - others[right, at] for at in (0, 1))
    near = apart_x**2 + apart_y**2 < reach_mm**2
    return left[near], right[near]


def groups(count: int, one: Ints, two: Ints) -> Ints:
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
