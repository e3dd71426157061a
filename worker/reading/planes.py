"""Planes of numbers between layers, each with a rim of zeros, and views of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import as_strided

Floats = npt.NDArray[np.float32]

#: Places side by side that one matrix product takes. Products are this narrow because OpenBLAS
#: spreads larger ones over threads of its own (see `worker.reading.network`).
BLOCK = 48


@dataclass(frozen=True, kw_only=True, eq=False)
class Planes:
    """Planes of one size. A rim of zeros, one place wide, is around each; rows lie end to end.

    So what a convolution sees from one place to the next is the same numbers one further on, and
    a block of places needs no heed of where rows end: what it finds for the rim is cut off again.

    Attributes:
        flat: (planes, places), with a block more than the rows need.
        rows: Of each plane, without its rim.
        columns: The same.
    """

    flat: Floats
    rows: int
    columns: int

    @classmethod
    def empty(cls, count: int, rows: int, columns: int) -> Planes:
        """Planes to be filled; only what is beyond them is set, to zero."""
        used = (rows + 2) * (columns + 2)
        flat = np.empty((count, used + BLOCK), np.float32)
        flat[:, used:] = 0
        return cls(flat=flat, rows=rows, columns=columns)

    @classmethod
    def of(cls, inner: Floats) -> Planes:
        """Planes that hold (planes, rows, columns)."""
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
        """The planes without their rims, a view (planes, rows, columns)."""
        return self._whole()[:, 1:-1, 1:-1]

    @property
    def first(self) -> int:
        """At which place the first number inside the rim is."""
        return self.columns + 3

    @property
    def blocks(self) -> int:
        """How many blocks hold all places inside the rim."""
        return -(-((self.rows - 1) * (self.columns + 2) + self.columns) // BLOCK)

    def _whole(self) -> Floats:
        rows, columns = self.rows + 2, self.columns + 2
        return self.flat[:, : rows * columns].reshape(self.count, rows, columns)

    def clear_rim(self) -> None:
        """Set the rim to zero."""
        whole = self._whole()
        whole[:, 0] = whole[:, -1] = 0
        whole[:, :, 0] = whole[:, :, -1] = 0

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
    return Planes.of(x.inner[:, 1::2, 1::2])


def largest(x: Planes) -> Planes:
    """The largest of two by two."""
    pairs = np.maximum(x.inner[:, ::2], x.inner[:, 1::2])
    return Planes.of(np.maximum(pairs[:, :, ::2], pairs[:, :, 1::2]))
