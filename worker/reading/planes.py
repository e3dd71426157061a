"""Planes of numbers: between layers, each with a rim of zeros; and looked at between places."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import as_strided

Floats = npt.NDArray[np.float32]
#: A picture's or a map's values, and places in it.
_Values = npt.NDArray[np.uint8] | Floats
_Places = Floats | npt.NDArray[np.float64]
_Count = int | npt.NDArray[np.int64]

#: Places side by side that one matrix product takes. Products are this narrow because OpenBLAS
#: spreads larger ones over threads of its own (see `worker.reading.network`).
BLOCK = 48


@dataclass(frozen=True, kw_only=True, eq=False)
class Planes:
    """Planes of one size. A rim of zeros, one place wide, is around each; rows lie end to end.

    So what a convolution sees from one place to the next is the same numbers one further on, and
    a block of places needs no heed of where rows end: what it finds for the rim is cut off again.

    Several views of one size may go through a network together, which calls each layer once for
    all: in each plane they lie one under another, each with its rim.

    Attributes:
        flat: (planes, places), with a block more than the rows need.
        rows: Of each plane, or of each view in it, without its rim.
        columns: The same.
        views: How many there are, if there are several.
    """

    flat: Floats
    rows: int
    columns: int
    views: tuple[int, ...] = ()

    @classmethod
    def empty(cls, count: int, *size: int) -> Planes:
        """Planes to be filled; only what is beyond them is set, to zero.

        Args:
            count: How many.
            size: Rows and columns; before them the number of views, if there are several.
        """
        *views, rows, columns = size
        used = math.prod(views) * (rows + 2) * (columns + 2)
        flat = np.empty((count, used + BLOCK), np.float32)
        flat[:, used:] = 0
        return cls(flat=flat, rows=rows, columns=columns, views=tuple(views))

    @classmethod
    def of(cls, inner: Floats) -> Planes:
        """Planes that hold (planes, rows, columns), or (planes, views, rows, columns)."""
        planes = cls.empty(*inner.shape)
        planes.inner[...] = inner
        planes.clear_rim()
        return planes

    @property
    def count(self) -> int:
        """How many planes there are."""
        return len(self.flat)

    @property
    def inner(self) -> Floats:
        """The planes without their rims: (planes, rows, columns), with views after planes."""
        return self.whole[..., 1:-1, 1:-1]

    @property
    def first(self) -> int:
        """At which place the first number inside the rim is."""
        return self.columns + 3

    @property
    def blocks(self) -> int:
        """How many blocks hold all places inside the rim."""
        return -(-(int(self.flat.shape[1]) - BLOCK - 2 * self.first) // BLOCK)

    @property
    def size(self) -> tuple[int, ...]:
        """As `empty` takes it."""
        return *self.views, self.rows, self.columns

    @property
    def whole(self) -> Floats:
        """The planes with their rims, as `inner` has them without."""
        size = self.count, *self.views, self.rows + 2, self.columns + 2
        return self.flat[:, : self.flat.shape[1] - BLOCK].reshape(size)

    def clear_rim(self) -> None:
        """Set the rim to zero."""
        whole = self.whole
        whole[..., 0, :] = whole[..., -1, :] = 0
        whole[..., 0] = whole[..., -1] = 0

    def in_blocks(self) -> Floats:
        """All places inside the rim, a view (blocks, planes, places of a block)."""
        plane, place = self.flat.strides
        return as_strided(
            self.flat[:, self.first :],
            (self.blocks, self.count, BLOCK),
            (BLOCK * place, plane, place),
        )

    def windows(self) -> Floats:
        """What is around each place: (planes, 3 down, 3 across, places of all blocks)."""
        plane, place = self.flat.strides
        return as_strided(
            self.flat,
            (self.count, 3, 3, self.blocks * BLOCK),
            (plane, (self.columns + 2) * place, place, place),
            writeable=False,
        )


def second(x: Planes) -> Planes:
    """Every second place: a convolution of stride 2, whose zeros are at the right and bottom."""
    return Planes.of(x.inner[..., 1::2, 1::2])


def around_second(x: Planes) -> Planes:
    """What a convolution of 3 × 3 sees at these places: nine planes for each plane."""
    out = Planes.empty(9 * x.count, *x.views, x.rows // 2, x.columns // 2)
    rows, columns = 2 * out.rows, 2 * out.columns
    for number in range(9):
        top, left = number // 3 + 1, number % 3 + 1
        out.inner[number::9] = x.whole[..., top : top + rows : 2, left : left + columns : 2]
    out.clear_rim()
    return out


def largest(x: Planes) -> Planes:
    """The largest of two by two."""
    pairs = np.maximum(x.inner[..., ::2, :], x.inner[..., 1::2, :])
    return Planes.of(np.maximum(pairs[..., ::2], pairs[..., 1::2]))


def between_pixels(values: _Values, x: _Places, y: _Places) -> Floats:
    """Values at places that are counted from the first pixel's middle (bilinear); edges go on."""
    return looking((values.shape[0], values.shape[1]), x, y)(values)


def looking(
    shape: tuple[_Count, _Count], x: _Places, y: _Places, first: _Count = 0
) -> Callable[[_Values], Floats]:
    """The same of any values of one shape, with places worked out once for all.

    Args:
        shape: Rows and columns; where values of several shapes lie end to end, those of each place.
        x: Places across.
        y: The same down.
        first: Where values begin, of all places or of each.
    """
    rows, columns = shape
    left, share_x = _between(x, columns)
    top, share_y = _between(y, rows)
    # Of one row or column there is no next one.
    right, below = 1 * (columns > 1), columns * (rows > 1)
    at = top * columns
    at += left
    at += first
    rest_x, rest_y = 1 - share_x, 1 - share_y

    def values_at(values: _Values) -> Floats:
        flat = values.ravel()
        upper, lower = flat.take(at) * rest_x, _beyond(flat, below, at) * rest_x
        upper += _beyond(flat, right, at) * share_x
        lower += _beyond(flat, below + right, at) * share_x
        upper *= rest_y
        lower *= share_y
        upper += lower
        return np.asarray(upper, np.float32)

    return values_at


def _beyond(flat: _Values, steps: _Count, at: npt.NDArray[np.intp]) -> _Values:
    """Values so many steps beyond places; of one number of steps no places are added up anew."""
    return flat[steps:].take(at) if isinstance(steps, int) else flat.take(at + steps)


def _between(places: _Places, count: _Count) -> tuple[npt.NDArray[np.intp], _Places]:
    """The lower neighbour of each place, and the share of the upper one."""
    inside = np.clip(places, 0, np.float32(count - 1))
    low = np.minimum(inside.astype(np.intp), np.maximum(count - 2, 0))
    return low, np.asarray(inside - low.astype(np.float32), inside.dtype)
