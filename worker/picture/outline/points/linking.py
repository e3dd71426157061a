"""Which point follows which on a line: each has at most one neighbour on either side.

Every pair of points within two pixels has a cost: their distance, and how far their directions
are from the way between them. Two points are linked where each is the other's best. So lines
need no thinning and no rule for junctions: where three meet, the two that fit best are linked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.edge_points import EDGE, Points, rows_and_columns

Ids = npt.NDArray[np.int32]
Keys = npt.NDArray[np.int32]
_Floats = npt.NDArray[np.float32]
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


@dataclass(frozen=True, kw_only=True)
class _Pairs:
    """Pairs of points that may be neighbours, from one place around points to the next.

    Attributes:
        one, two: Their numbers.
        turn: Which of the places around the first point the second one has.
    """

    one: _Places
    two: _Places
    turn: npt.NDArray[np.int16]

    def taken(self, which: _Places) -> _Pairs:
        """Some of them."""
        return _Pairs(
            one=self.one.take(which), two=self.two.take(which), turn=self.turn.take(which)
        )


def best_neighbours(points: Points, width: int) -> Keys:
    """For each point and side the key of the best neighbour, or -1; (points, 2).

    All pairs are weighed at once: of many short operations two threads hinder each other.

    Args:
        points: Of one tile with its surroundings.
        width: Columns of the whole picture.
    """
    count = len(points)
    best = np.full(2 * count, -1, np.int32)
    if not count:
        return best.reshape(0, 2)
    pairs, leaves, enters, cost = _weighed(points, _directed(points, _near(points, width)))
    # A point is left by one side and entered by the other.
    slot = np.concatenate((2 * pairs.one + (leaves < 0), 2 * pairs.two + (enters > 0)))
    other, cost = np.concatenate((pairs.two, pairs.one)), np.concatenate((cost, cost))
    least = np.full(2 * count, np.inf, np.float32)
    np.minimum.at(least, slot, cost)
    cheapest = np.flatnonzero(cost == least.take(slot))
    # Of several that cost the same the one that is met first comes last, and stays.
    met = np.concatenate((2 * pairs.turn, 2 * pairs.turn + 1)).take(cheapest)
    cheapest = cheapest.take(np.argsort(-met, kind="stable"))
    best[slot.take(cheapest)] = points.key.take(other.take(cheapest))
    return best.reshape(count, 2)


def _near(points: Points, width: int) -> _Pairs:
    """Pairs within two pixels."""
    row, column = rows_and_columns(points.key, width)
    top, left = int(row[0]), int(column.min())
    columns = int(column.max()) - left + 5
    at = ((row - top) * columns + column - left + 2).astype(np.intp)
    place = np.full((int(row[-1]) - top + 3) * columns + 4, -1, np.int32)
    # Of an edge and a ridge on one pixel the ridge stays, which comes second.
    place[at] = np.arange(len(at), dtype=np.int32)
    steps = np.array([down * columns + across for down, across in _AROUND], np.intp)
    there = place.take(at + steps[:, None]).ravel()
    found = np.flatnonzero(there >= 0)
    ends = np.searchsorted(found, len(at) * np.arange(len(steps) + 1))
    turn = np.repeat(np.arange(len(steps), dtype=np.int16), np.diff(ends))
    one = found - np.repeat(len(at) * np.arange(len(steps)), np.diff(ends))
    return _Pairs(one=one, two=there.take(found).astype(np.intp), turn=turn)


def _directed(points: Points, pairs: _Pairs) -> _Pairs:
    """Those whose lines run alike."""
    one, two = pairs.one, pairs.two
    # Where two colours grow equally light, one and the same border goes on as one of colour.
    kind, kind_two = points.kind.take(one), points.kind.take(two)
    like = (kind == kind_two) | ~(points.thin.take(one) | points.thin.take(two))
    along = points.across_x.take(one) * points.across_x.take(two)
    along += points.across_y.take(one) * points.across_y.take(two)
    signed = (kind == EDGE) & (kind_two == EDGE)
    agree = np.where(signed, along, np.abs(along)) > _LEAST_COSINE
    return pairs.taken(np.flatnonzero(like & agree))


def _weighed(points: Points, pairs: _Pairs) -> tuple[_Pairs, _Floats, _Floats, _Floats]:
    """Those that point at each other; how they are left and entered, and what each costs."""
    one, two = pairs.one, pairs.two
    dx, dy = points.x.take(two) - points.x.take(one), points.y.take(two) - points.y.take(one)
    far = np.sqrt(dx * dx + dy * dy) + np.float32(1e-6)
    # The line runs a quarter turn from its across: (-y, x).
    leaves = (points.across_x.take(one) * dy - points.across_y.take(one) * dx) / far
    enters = (points.across_x.take(two) * dy - points.across_y.take(two) * dx) / far
    straight, straight_two = np.abs(leaves), np.abs(enters)
    good = np.flatnonzero((straight > _LEAST_COSINE) & (straight_two > _LEAST_COSINE))
    bends = 2 - straight.take(good) - straight_two.take(good)
    cost = far.take(good) * (1 + np.float32(_BEND_COST) * bends)
    return pairs.taken(good), leaves.take(good), enters.take(good), cost


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
    link = number.take(wishes.ravel() + 1, mode="clip")
    mine = np.repeat(np.arange(len(keys), dtype=np.int32), 2)
    one, two = (link[side::2].take(link) for side in (0, 1))
    back = (one == mine) | (two == mine)
    return np.where((link >= 0) & back, link, np.int32(-1)).reshape(-1, 2)
