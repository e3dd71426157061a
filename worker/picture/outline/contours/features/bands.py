"""Bands across a part of a picture: of all whose edges change slowly, the one worth most.

A brow and a mouth have an upper and a lower edge that go from one end to the other. Which band is
best, and where it ends, is found exactly, column by column (dynamic programming).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from worker.picture.outline.points.gaussian import Floats

#: What is less counts as so much, so that nothing is centred on nothing.
_LITTLE = 1e-3
#: From the middle one, of a matrix of third differences by themselves.
_DIAGONALS = 4
#: As much as so many places weighs one that is to stay.
_HELD = 1e6

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

    def taken(self, which: slice) -> Band:
        """Some of its columns; what they are worth is not counted anew."""
        return replace(
            self, columns=self.columns[which], first=self.first[which], kind=self.kind[which]
        )


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
    padded = np.full((rows + 2 * far, kinds + 2 * wide), -np.inf, np.float32)
    total = padded[far : far + rows, wide : wide + kinds]
    total[:] = worth[:, 0]
    best, end = float(total.max()), (0, int(total.argmax()))
    for column in range(1, columns):
        before = np.zeros((rows, kinds), np.float32)
        for number, (a, b, cost) in enumerate(moves):
            way = padded[far + a : far + a + rows, wide + b : wide + b + kinds] - np.float32(cost)
            better = way > before
            np.copyto(before, way, where=better)
            came[column][better] = number
        np.add(worth[:, column], before, out=total)
        at = int(total.argmax())
        highest = float(total[divmod(at, kinds)])
        if highest > best:
            best, end = highest, (column, at)
    return _traced(came, moves, end, best)


def best_path(worth: Floats, of_row: float) -> Ints:
    """The row of each column along which a line is worth most, from the first to the last.

    Args:
        worth: (..., rows, columns) of a line there; of each of many parts at once.
        of_row: What it costs to go one row up or down; it goes no further from column to column.

    Returns:
        (..., columns).
    """
    *many, rows, columns = worth.shape
    padded = np.full((*many, rows + 2), -np.inf, np.float32)
    ways = sliding_window_view(padded, rows, axis=-1)
    cost = np.array([[of_row], [0.0], [of_row]], np.float32)
    came = np.empty((columns, *many, rows), np.int8)
    padded[..., 1:-1] = worth[..., 0]
    for column in range(1, columns):
        reached = ways - cost
        came[column] = reached.argmax(axis=-2)
        padded[..., 1:-1] = reached.max(axis=-2) + worth[..., column]
    path = np.empty((*many, columns), np.int64)
    path[..., -1] = padded[..., 1:-1].argmax(axis=-1)
    for column in range(columns - 1, 0, -1):
        at = path[..., column, None]
        path[..., column - 1, None] = at + np.take_along_axis(came[column], at, axis=-1) - 1
    return path


def closed_path(worth: Floats, of_row: float) -> Ints:
    """The same around a ring, whose last column goes on in its first one.

    The path begins a quarter of a turn before it counts, and ends one after: by then it is the best
    one from wherever it came.
    """
    quarter = worth.shape[-1] // 4
    around = np.concatenate((worth[..., -quarter:], worth, worth[..., :quarter]), axis=-1)
    return best_path(around, of_row)[..., quarter:-quarter]


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


def fair(
    values: Doubles, length: float, weight: Doubles | None = None, *, held: bool = False
) -> Doubles:
    """The fair line through places: what changes within a length is smoothed.

    The graduation of Whittaker (1923), which weighs how far places move against how much the
    second differences change (Eilers, "A perfect smoother", Analytical Chemistry 75, 2003).

    Args:
        values: Of evenly spaced places, four and more.
        length: Waves of so many places are halved, shorter ones go.
        weight: Of each, or all have the same.
        held: Whether both ends stay, where all have the same.
    """
    if weight is None:
        # In this order on any number of cores, which a product of BLAS is not.
        return np.asarray((_smoother(len(values), length, held=held) * values).sum(axis=1))
    bent = np.diag(weight) + _bent(len(values), length)
    return _solved(bent, (weight * values)[:, None])[:, 0]


def fair_ring(values: Doubles, length: float) -> Doubles:
    """The same of places all round a ring, of which the last is beside the first.

    Third differences of a wave are the wave again, so that each is only made smaller.
    """
    waves = np.fft.rfft(values)
    steps = 2 * np.sin(np.pi * np.arange(len(waves)) / len(values))
    smaller = 1 + (length / (2 * np.pi) * steps) ** 6
    return np.asarray(np.fft.irfft(waves / smaller, len(values)))


@lru_cache(maxsize=256)
def _smoother(count: int, length: float, *, held: bool) -> Doubles:
    """What smooths so many values: (count, count)."""
    weight = np.ones(count)
    weight[[0, -1]] = _HELD if held else 1.0
    return _solved(np.diag(weight) + _bent(count, length), np.diag(weight))


def _solved(banded: Doubles, wanted: Doubles) -> Doubles:
    """What gives `wanted`, (count, any), by a positive matrix of seven diagonals."""
    left, found = banded.copy(), wanted.astype(np.float64)
    for at in range(len(left)):
        below, beside = slice(at + 1, at + _DIAGONALS), slice(at, at + _DIAGONALS)
        share = (left[below, at] / left[at, at])[:, None]
        left[below, beside] -= share * left[at, beside]
        found[below] -= share * found[at]
    for at in range(len(left) - 1, -1, -1):
        beside = slice(at + 1, at + _DIAGONALS)
        found[at] -= (left[at, beside, None] * found[beside]).sum(axis=0)
        found[at] /= left[at, at]
    return found


def _bent(count: int, length: float) -> Doubles:
    third = np.diff(np.eye(count), 3, axis=0)
    return np.asarray((length / (2 * np.pi)) ** 6 * third.T @ third)
