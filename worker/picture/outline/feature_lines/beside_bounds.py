"""What of lines runs beside a bound of a face, as a jaw or a hairline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles, Ints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: Places of lines are looked at so many at a time: a face that fills a mural has lines by the metre
#: around, and what fits a core's cache takes a third of the time.
_AT_ONCE = 128
#: Most places in a bound's box are far from it, which one of its places in so many tells.
_FEW = 4


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Places of lines that are near a bound.

    Attributes:
        at: Their places in the lines' order.
        place: Which place of the bound each is beside.
        out: How far it is to the right of it as one goes along, in pixels of the grid.
        along: The cosine of the way there to the bound's.
    """

    at: Ints
    place: Ints
    out: Doubles
    along: Doubles

    def taken(self, which: npt.NDArray[np.bool_]) -> Beside:
        """Some of them."""
        return Beside(
            at=self.at[which],
            place=self.place[which],
            out=self.out[which],
            along=self.along[which],
        )


def beside(
    bound: Doubles, points: Points, chains: Chains, near: float, among: Ints | None = None
) -> Beside:
    """Places of lines that are so near a bound, but beyond its ends.

    Args:
        bound: (places, 2) in pixels of the grid.
        points: All points.
        chains: The lines.
        near: In pixels of the grid.
        among: Places in the lines' order that may be, in their order, or all.
    """
    x, y = points.x[chains.order], points.y[chains.order]
    at = in_box(bound, x, y, near) if among is None else among
    at = at[_may_be_near(bound, x[at], y[at], near)]
    place = _nearest(bound, x[at], y[at])
    across, down = x[at] - bound[place, 0], y[at] - bound[place, 1]
    close = across * across + down * down < near * near
    at, place, across, down = at[close], place[close], across[close], down[close]
    way = np.gradient(bound, axis=0)
    way = (way / np.hypot(*way.T)[:, None])[place]
    out = down * way[:, 0] - across * way[:, 1]
    point = chains.order[at]
    aside = points.across_x[point] * way[:, 0] + points.across_y[point] * way[:, 1]
    return Beside(at=at, place=place, out=out, along=np.sqrt(np.maximum(1 - aside * aside, 0)))


def in_box(bound: Doubles, x: Floats, y: Floats, near: float) -> Ints:
    """Which of some places are in the box that a bound is in, or so near it."""
    (left, top), (right, bottom) = bound.min(axis=0) - near, bound.max(axis=0) + near
    return np.flatnonzero((x > left) & (x < right) & (y > top) & (y < bottom))


def _may_be_near(bound: Doubles, x: Floats, y: Floats, near: float) -> npt.NDArray[np.bool_]:
    """Whether some places may be so near a bound, told by a few of its places."""
    some = bound[::_FEW]
    off = bound - some.repeat(_FEW, axis=0)[: len(bound)]
    far = near + float(np.hypot(*off.T).max())
    place = _nearest(some, x, y)
    across, down = x - some[place, 0], y - some[place, 1]
    return np.asarray(across * across + down * down <= far * far)


def _nearest(bound: Doubles, x: Floats, y: Floats) -> Ints:
    """The place of a bound that each of some places is nearest to."""
    found = np.zeros(len(x), np.int64)
    for first in range(0, len(x), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        across, down = x[some, None] - bound[:, 0], y[some, None] - bound[:, 1]
        found[some] = (across * across + down * down).argmin(axis=1)
    return found
