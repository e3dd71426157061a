"""Bands across a part of a picture: of all whose edges change slowly, the one worth most.

A brow and a mouth have an upper and a lower edge that go from one end to the other. Which band is
best, and where it ends, is found exactly, column by column (dynamic programming).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import Floats
from worker.reading.best_paths import best_path

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


def best_band(worth: Floats, bending: Bending) -> Band:
    """The band that is worth most.

    Args:
        worth: (rows, columns, kinds) of a column that begins in a row and is of a thickness; those
            that are worth less than nothing end a band.
        bending: How it may go on.
    """
    rows, columns, kinds = worth.shape
    far, wide = bending.rows, bending.kinds
    padded = np.full((columns, rows + 2 * far, kinds + 2 * wide), -np.inf, np.float32)
    totals = padded[:, far : far + rows, wide : wide + kinds]
    totals[0] = worth[:, 0]
    for column in range(1, columns):
        by_row = _best_near(padded[column - 1], far, bending.of_row)
        before = _best_near(by_row.T, wide, bending.of_kind).T
        totals[column] = worth[:, column] + np.maximum(before, 0)
    column, place = divmod(int(totals.argmax()), rows * kinds)
    return _traced(padded, bending, (column, *divmod(place, kinds)))


def closed_path(worth: Floats, of_row: float) -> Ints:
    """The best path around a ring, whose last column goes on in its first one.

    The path begins a quarter of a turn before it counts, and ends one after: by then it is the best
    one from wherever it came.
    """
    quarter = worth.shape[-1] // 4
    around = np.concatenate((worth[..., -quarter:], worth, worth[..., :quarter]), axis=-1)
    return best_path(around, (of_row,))[..., quarter:-quarter]


def _best_near(values: Floats, reach: int, cost: float) -> Floats:
    """The best of so many before and after each, less what each step to it costs."""
    count = len(values) - 2 * reach
    found = values[reach : reach + count]
    for step in range(1, reach + 1):
        either = np.maximum(values[reach - step :][:count], values[reach + step :][:count])
        either -= np.float32(step * cost)
        found = np.maximum(either, found)
    return found


def _traced(padded: Floats, bending: Bending, end: tuple[int, int, int]) -> Band:
    """The way back from a last column, as long as what is before it is worth anything."""
    far, wide = bending.rows, bending.kinds
    cost = np.add.outer(
        bending.of_row * np.abs(np.arange(-far, far + 1)),
        bending.of_kind * np.abs(np.arange(-wide, wide + 1)),
    ).astype(np.float32)
    places, (column, row, kind) = [end], end
    while column:
        column -= 1
        ways = padded[column, row : row + len(cost), kind : kind + cost.shape[1]] - cost
        best = int(ways.argmax())
        if ways.flat[best] <= 0:
            break
        row, kind = row + best // cost.shape[1] - far, kind + best % cost.shape[1] - wide
        places.append((column, row, kind))
    at, first, kinds = np.array(places[::-1]).T
    worth = float(padded[end[0], end[1] + far, end[2] + wide])
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
        values: Of evenly spaced places, four and more; with a weight also (lines, places).
        length: Waves of so many places are halved, shorter ones go.
        weight: Of each, or all have the same.
        held: Whether both ends stay, where all have the same.
    """
    if weight is None:
        # In this order on any number of cores, which a product of BLAS is not.
        return np.asarray((_smoother(len(values), length, held=held) * values).sum(axis=1))
    bent = np.diag(weight) + _bent(len(weight), length)
    return _solved(bent, np.atleast_2d(weight * values).T).T.reshape(values.shape)


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
