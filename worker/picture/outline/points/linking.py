"""Which point follows which on a line: each has at most one neighbour on either side.

Every pair of points within two pixels has a cost: their distance, and how far their directions
are from the way between them. Two points are linked where each is the other's best. So lines
need no thinning and no rule for junctions: where three meet, the two that fit best are linked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.edge_points import EDGE, Points

Ids = npt.NDArray[np.int32]
Keys = npt.NDArray[np.int32]
_Floats = npt.NDArray[np.float32]
_Flags = npt.NDArray[np.bool_]
#: Numbers of points, as wide as an index is, so that none is widened for each value looked up.
_Places = npt.NDArray[np.intp]

#: Half of the places around a point; the other half are the same pairs seen from there.
_AROUND = tuple(
    (down, across) for down in range(3) for across in range(-2, 3) if down or across > 0
)
#: Lines through both points must run within 60 degrees of the way between them, and of each
#: other.
_LEAST_COSINE = 0.5
#: How much more a pair costs that does not point at each other.
_BEND_COST = 2.0


@dataclass(frozen=True)
class _Best:
    """For each point and side, the best neighbour and what it costs."""

    other: Keys
    cost: _Floats

    def offer(
        self,
        slot: _Places,
        other: _Places,
        cost: _Floats,
    ) -> None:
        """Take what is better than what there was."""
        better = np.flatnonzero(cost < self.cost.take(slot))
        slot = slot.take(better)
        self.cost[slot] = cost.take(better)
        self.other[slot] = other.take(better)


def best_neighbours(points: Points, width: int) -> Keys:
    """For each point and side the key of the best neighbour, or -1; (points, 2).

    Args:
        points: Of one tile with its surroundings.
        width: Columns of the whole picture.
    """
    count = len(points)
    best = _Best(np.full(2 * count, -1, np.int32), np.full(2 * count, np.inf, np.float32))
    if not count:
        return best.other.reshape(0, 2)
    row, column = np.divmod(points.key, width)
    top, left = int(row[0]), int(column.min())
    columns = int(column.max()) - left + 5
    at = (row - top) * columns + column - left + 2
    place = np.full((int(row[-1]) - top + 3) * columns + 4, -1, np.int32)
    # Of an edge and a ridge on one pixel the ridge stays, which comes second.
    place[at] = np.arange(count, dtype=np.int32)
    thin = points.thin
    for down, across in _AROUND:
        there = place.take(at + (down * columns + across))
        first = np.flatnonzero(there >= 0)
        _weigh(points, thin, first, there.take(first).astype(np.intp), best)
    found = best.other
    return np.where(found >= 0, points.key[found], -1).reshape(count, 2)


def _weigh(points: Points, thin: _Flags, one: _Places, two: _Places, best: _Best) -> None:
    """Offer pairs of points to each other."""
    # Where two colours grow equally light, one and the same border goes on as one of colour.
    kind, kind_two = points.kind.take(one), points.kind.take(two)
    like = (kind == kind_two) | ~(thin.take(one) | thin.take(two))
    along = points.across_x.take(one) * points.across_x.take(two)
    along += points.across_y.take(one) * points.across_y.take(two)
    signed = (kind == EDGE) & (kind_two == EDGE)
    agree = np.where(signed, along, np.abs(along)) > _LEAST_COSINE
    good = np.flatnonzero(like & agree)
    one, two = one.take(good), two.take(good)
    dx, dy = points.x.take(two) - points.x.take(one), points.y.take(two) - points.y.take(one)
    far = np.sqrt(dx * dx + dy * dy) + np.float32(1e-6)
    # The line runs a quarter turn from its across: (-y, x).
    leaves = (points.across_x.take(one) * dy - points.across_y.take(one) * dx) / far
    enters = (points.across_x.take(two) * dy - points.across_y.take(two) * dx) / far
    straight, straight_two = np.abs(leaves), np.abs(enters)
    good = np.flatnonzero((straight > _LEAST_COSINE) & (straight_two > _LEAST_COSINE))
    bends = 2 - straight.take(good) - straight_two.take(good)
    cost = far.take(good) * (1 + np.float32(_BEND_COST) * bends)
    one, two = one.take(good), two.take(good)
    best.offer(2 * one + (leaves.take(good) < 0), two, cost)
    best.offer(2 * two + (enters.take(good) > 0), one, cost)


def mutual(keys: Keys, wishes: Keys) -> Ids:
    """Links where two points are each other's best: (points, 2) of point numbers or -1.

    Args:
        keys: Of all points, ascending.
        wishes: For each point and side the key of its best neighbour, or -1.
    """
    # A table of all pixels, as they are few; one before the first and one after the last has none.
    number = np.full(int(keys.max(initial=-1)) + 3, -1, np.int32)
    # Where two points have one pixel, the first one counts.
    number[keys[::-1] + 1] = np.arange(len(keys), dtype=np.int32)[::-1]
    link = number.take(wishes + 1, mode="clip")
    mine = np.arange(len(keys), dtype=np.int32)[:, None]
    back = (link[link, 0] == mine) | (link[link, 1] == mine)
    return np.where((link >= 0) & back, link, np.int32(-1))
