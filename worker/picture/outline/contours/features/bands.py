"""Bands across a part of a picture: of all whose edges change slowly, the one worth most.

A brow and a mouth have an upper and a lower edge that go from one end to the other. Which band is
best, and where it ends, is found exactly, column by column (dynamic programming).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import Floats

#: What is less counts as so much, so that nothing is centred on nothing.
_LITTLE = 1e-3
#: As much as so many places weighs one that is to stay.
HELD = 1e6

Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Band:
    """Some columns of a part.

    Attributes:
        columns: Their numbers.
        first: The first row of each.
        kind: The number of its thickness.
        worth: What all are worth.
    """

    columns: Ints
    first: Ints
    kind: Ints
    worth: float


@dataclass(frozen=True, kw_only=True)
class Bending:
    """How a band may go on from column to column.

    Attributes:
        rows, kinds: By how much its first row and its thickness change at most.
        of_row, of_kind: What a change by one costs.
    """

    rows: int = 1
    kinds: int = 1
    of_row: float
    of_kind: float = 0.0

    def moves(self) -> list[tuple[int, int, float]]:
        """All changes from column to column, and what each costs."""
        changes = product(range(-self.rows, self.rows + 1), range(-self.kinds, self.kinds + 1))
        return [(a, b, self.of_row * abs(a) + self.of_kind * abs(b)) for a, b in changes]


def best_band(worth: Floats, bending: Bending) -> Band:
    """The band that is worth most.

    Args:
        worth: (rows, columns, kinds) of a column that begins in a row and is of a thickness; those
            that are worth less than nothing end a band.
        bending: How it may go on.
    """
    rows, columns, kinds = worth.shape
    moves, far, wide = bending.moves(), bending.rows, bending.kinds
    came = np.full((columns, rows, kinds), -1, np.int8)
    total, best, end = worth[:, 0], -np.inf, (0, 0)
    for column in range(columns):
        if column:
            padded = np.pad(total, ((far, far), (wide, wide)), constant_values=-np.inf)
            before = np.zeros((rows, kinds), np.float32)
            for number, (a, b, cost) in enumerate(moves):
                way = padded[far + a : far + a + rows, wide + b : wide + b + kinds]
                better = way - np.float32(cost) > before
                before[better] = way[better] - np.float32(cost)
                came[column][better] = number
            total = worth[:, column] + before
        at = int(total.argmax())
        if total.flat[at] > best:
            best, end = float(total.flat[at]), (column, at)
    return _traced(came, moves, end, best)


def _traced(
    came: npt.NDArray[np.int8],
    moves: list[tuple[int, int, float]],
    end: tuple[int, int],
    worth: float,
) -> Band:
    """The way back from the last column."""
    column, (row, kind) = end[0], divmod(end[1], came.shape[2])
    places = [(column, row, kind)]
    while (number := int(came[column, row, kind])) >= 0:
        row, kind = row + moves[number][0], kind + moves[number][1]
        column -= 1
        places.append((column, row, kind))
    at, first, kinds = np.array(places[::-1]).T
    return Band(columns=at, first=first, kind=kinds, worth=worth)


def centred(values: Floats, columns: Ints, rows: Ints, reach: int) -> Doubles:
    """Rows to a fraction: the mean place of what is high so far around, by its square."""
    near = rows + np.arange(-reach, reach + 1)[:, None]
    inside = np.clip(near, 0, len(values) - 1)
    weight = np.maximum(values[inside, columns], np.float32(_LITTLE)) ** 2
    return np.asarray((weight * near).sum(axis=0) / weight.sum(axis=0), np.float64)


def fair(values: Doubles, length: float, weight: Doubles | None = None) -> Doubles:
    """The fair line through places: what changes within a length is smoothed.

    The graduation of Whittaker (1923), which weighs how far places move against how much the
    second differences change (Eilers, "A perfect smoother", Analytical Chemistry 75, 2003).

    Args:
        values: Of evenly spaced places, four and more.
        length: Waves of so many places are halved, shorter ones go.
        weight: Of each; one that is to stay has `HELD`.
    """
    weight = np.ones(len(values)) if weight is None else weight
    third = np.diff(np.eye(len(values)), 3, axis=0)
    bent = (length / (2 * np.pi)) ** 6 * third.T @ third
    return np.asarray(np.linalg.solve(np.diag(weight) + bent, weight * values), np.float64)
