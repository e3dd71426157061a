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
        slot: Keys,
        other: Keys,
        cost: _Floats,
    ) -> None:
        """Take what is better than what there was."""
        better = np.flatnonzero(cost < self.cost[slot])
        self.cost[slot[better]] = cost[better]
        self.other[slot[better]] = other[better]


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
    for down, across in _AROUND:
        there = place[at + (down * columns + across)]
        first = np.flatnonzero(there >= 0)
        _weigh(points, first.astype(np.int32), there[first], best)
    found = best.other
    return np.where(found >= 0, points.key[found], -1).reshape(count, 2)


def _weigh(points: Points, one: Keys, two: Keys, best: _Best) -> None:
    """Offer pairs of points to each other."""
    # Where two colours grow equally light, one and the same border goes on as one of colour.
    thin = points.thin
    like = (points.kind[one] == points.kind[two]) | ~(thin[one] | thin[two])
    along = (
        points.across_x[one] * points.across_x[two] + points.across_y[one] * points.across_y[two]
    )
    signed = (points.kind[one] == EDGE) & (points.kind[two] == EDGE)
    agree = np.where(signed, along, np.abs(along)) > _LEAST_COSINE
    good = np.flatnonzero(like & agree)
    one, two = one[good], two[good]
    dx, dy = points.x[two] - points.x[one], points.y[two] - points.y[one]
    far = np.sqrt(dx * dx + dy * dy) + np.float32(1e-6)
    # The line runs a quarter turn from its across: (-y, x).
    leaves = (points.across_x[one] * dy - points.across_y[one] * dx) / far
    enters = (points.across_x[two] * dy - points.across_y[two] * dx) / far
    straight, straight_two = np.abs(leaves), np.abs(enters)
    good = np.flatnonzero((straight > _LEAST_COSINE) & (straight_two > _LEAST_COSINE))
    one, two, leaves, enters = one[good], two[good], leaves[good], enters[good]
    cost = far[good] * (1 + np.float32(_BEND_COST) * (2 - straight[good] - straight_two[good]))
    best.offer(2 * one + (leaves < 0), two, cost)
    best.offer(2 * two + (enters > 0), one, cost)


def mutual(keys: Keys, wishes: Keys) -> Ids:
    """Links where two points are each other's best: (points, 2) of point numbers or -1.

    Args:
        keys: Of all points, ascending.
        wishes: For each point and side the key of its best neighbour, or -1.
    """
    wished = wishes.ravel()
    there = np.searchsorted(keys, wished).astype(np.int32)
    there = np.minimum(there, np.int32(len(keys) - 1))
    known = (wished >= 0) & (keys[there] == wished)
    link = np.where(known, there, np.int32(-1)).reshape(-1, 2)
    mine = np.arange(len(keys), dtype=np.int32)[:, None]
    back = (link[link, 0] == mine) | (link[link, 1] == mine)
    return np.where((link >= 0) & back, link, np.int32(-1))
