"""Places along the reading's ridges, a pixel of the picture's grid apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.contour_ridges import RidgeLines
from worker.picture.outline.points.gaussian import Floats

#: Places to either side that give a place its direction.
_DIRECTION_REACH = 3

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Doubles = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Places along ridges, line after line.

    Attributes:
        x, y: In pixels of the grid.
        nx, ny: Unit vector across.
        line: Which line each is on, ascending.
        closes: The place whose line goes on at its first place: the last one of a ring.
    """

    x: Floats
    y: Floats
    nx: Floats
    ny: Floats
    line: Ints
    closes: Flags

    def __len__(self) -> int:
        """How many."""
        return len(self.x)

    def taken(self, which: Flags | Ints) -> Places:
        """Some of them; what had others between is of two lines."""
        line, at = self.line, np.arange(len(self))[which]
        if which.dtype == bool:
            line = line + np.cumsum(~which)
        return Places(
            x=self.x[at],
            y=self.y[at],
            nx=self.nx[at],
            ny=self.ny[at],
            line=line[at],
            closes=self._closing(which)[at],
        )

    def _closing(self, which: Flags | Ints) -> Flags:
        """`closes`, of lines that are still whole."""
        if which.dtype != bool or not len(self):
            return self.closes
        number = np.cumsum(np.diff(self.line, prepend=-1) != 0) - 1
        whole = np.bincount(number, ~which)[number] == 0
        return np.asarray(self.closes & whole)

    def neighbours(self, reach: int | Ints) -> tuple[Ints, Ints]:
        """Places so many steps before and after each, no further than the ends of its line."""
        at, (first, last) = np.arange(len(self)), self.ends
        return np.maximum(at - reach, first), np.minimum(at + reach, last)

    @cached_property
    def ends(self) -> tuple[Ints, Ints]:
        """The first and the last place of the line of each."""
        return _ends(self.line)


def places_along(ridges: RidgeLines, shape: tuple[int, int]) -> Places:
    """Places of ridges that lie in the picture.

    Args:
        ridges: In pixels of the grid.
        shape: Rows and columns of the picture's grid.
    """
    x, y, line = _stepped(ridges.x, ridges.y, ridges.first)
    nx, ny = _across(x, y, line)
    inside = (
        (np.rint(x) >= 0) & (np.rint(y) >= 0) & (np.rint(x) < shape[1]) & (np.rint(y) < shape[0])
    )
    whole = ridges.closed & (np.bincount(line, ~inside, len(ridges.closed)) == 0)
    last = np.diff(line, append=-1) != 0
    # The last place of a ring is its first one again.
    again = last & whole[line]
    closes = np.concatenate((again[1:], [False]))
    # What leaves the picture and comes back is another line.
    part = np.cumsum((np.diff(line, prepend=0) != 0) | np.diff(inside, prepend=True))
    kept = inside & ~again
    return Places(
        x=x[kept].astype(np.float32),
        y=y[kept].astype(np.float32),
        nx=nx[kept],
        ny=ny[kept],
        line=part[kept],
        closes=closes[kept],
    )


def _stepped(x: Floats, y: Floats, first: Ints) -> tuple[Doubles, Doubles, Ints]:
    """Places about one pixel apart along lines, and the line of each."""
    counts = np.diff(first)
    owner = np.repeat(np.arange(len(counts)), counts)
    step = np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1])).astype(np.float64)
    step[first[:-1]] = 0
    # Lines are so far apart along the way that nothing is between them.
    along = np.cumsum(step) + owner * 4.0
    start, end = along[first[:-1]], along[first[1:] - 1]
    number = np.maximum(np.rint(end - start).astype(np.int64), 1) + 1
    line = np.repeat(np.arange(len(counts)), number)
    share = np.arange(len(line)) - np.repeat(np.cumsum(number) - number, number)
    at = start[line] + share * ((end - start) / (number - 1))[line]
    if not len(x):
        return at, at, line
    return np.interp(at, along, x), np.interp(at, along, y), line


def _across(x: Doubles, y: Doubles, line: Ints) -> tuple[Floats, Floats]:
    """Unit vectors a quarter turn from the way along lines."""
    at, (first, last) = np.arange(len(line)), _ends(line)
    before = np.maximum(at - _DIRECTION_REACH, first)
    after = np.minimum(at + _DIRECTION_REACH, last)
    dx, dy = x[after] - x[before], y[after] - y[before]
    far = np.maximum(np.hypot(dx, dy), 1e-6)
    return (-dy / far).astype(np.float32), (dx / far).astype(np.float32)


def _ends(line: Ints) -> tuple[Ints, Ints]:
    """The first and the last place with the line of each; ascending lines."""
    starts = np.flatnonzero(np.diff(line, prepend=-1) != 0)
    counts = np.diff(np.append(starts, len(line)))
    return np.repeat(starts, counts), np.repeat(starts + counts - 1, counts)
