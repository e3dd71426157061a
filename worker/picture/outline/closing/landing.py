"""Lines that end on others end exactly there, wherever ruling and fairing moved either."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains
from worker.picture.outline.polylines import Floats, Polylines

#: An end goes straight on or back to the other line within this, or aside to it; and of its line so
#: much moves with it, in parts of how far, and at least.
_STRAIGHT_MM, _WITH_IT, _LEAST_MM = 2.5, 4.0, 2.0
#: The part of a line that may move, and of the other one that is looked at.
_END_MM, _NEAR_MM = 12.0, 5.0
#: Its direction is that over so many places.
_COURSE = 6

_Ints = npt.NDArray[np.int64]


def landings(chains: Chains) -> list[tuple[int, int, int]]:
    """Ends that are points of other lines.

    Returns:
        The line, 0 for its start or 1 for its end, and the other line.
    """
    order, owner = chains.order, chains.owner
    inner = np.ones(len(order), bool)
    inner[chains.first[:-1]] = inner[chains.first[1:] - 1] = False
    # A place within a line counts before an end.
    by_point = np.full(int(order.max(initial=0)) + 1, -1, np.int64)
    by_point[order[~inner]] = owner[~inner]
    by_point[order[inner]] = owner[inner]
    found = []
    for side, place in ((0, chains.first[:-1]), (1, chains.first[1:] - 1)):
        other = by_point[order[place]]
        on = ~chains.closed & (other != np.arange(len(chains)))
        found += [(int(line), side, int(other[line])) for line in np.flatnonzero(on)]
    return found


def landed(lines: Polylines, ends: list[tuple[int, int, int]]) -> Polylines:
    """Lines whose ends lie on others.

    Args:
        lines: In mm of the picture.
        ends: As `landings` has them.
    """
    places = lines.places.copy()
    many = round(_END_MM / lines.usual_step_mm) + _COURSE if ends else 0
    for line, side, other in ends:
        own = slice(lines.first[line], lines.first[line + 1])
        outwards = (places[own] if side else places[own][::-1])[-many:]
        target = places[lines.first[other] : lines.first[other + 1]]
        near = np.flatnonzero(np.abs(target - outwards[-1]).max(axis=1) < _NEAR_MM)
        if len(near):
            target = target[max(near[0] - 1, 0) : near[-1] + 2]
        outwards += _moved(outwards, _met(outwards, target) - outwards[-1])
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def _met(places: Floats, target: Floats) -> Floats:
    """Where a line's end comes to another line: straight on or back, else at its nearest place."""
    end = places[-1]
    way = end - places[max(len(places) - 1 - _COURSE, 0)]
    way /= max(float(np.hypot(*way)), 1e-9)
    start, steps = target[:-1], target[1:] - target[:-1]
    # How far each step's ends are to the left of the way, and along it.
    left = (target - end) @ (-way[1], way[0])
    along = (target - end) @ way
    cross = left[:-1] * left[1:] <= 0
    share = np.clip(left[:-1] / np.where(cross, left[:-1] - left[1:] + 1e-12, 1), 0, 1)
    there = along[:-1] + share * (along[1:] - along[:-1])
    far = np.where(cross, np.abs(there), np.inf)
    if far.min(initial=np.inf) <= _STRAIGHT_MM:
        return np.asarray(end + there[np.argmin(far)] * way)
    square = np.maximum((steps * steps).sum(axis=1), 1e-12)
    share = np.clip(((end - start) * steps).sum(axis=1) / square, 0, 1)
    near = start + share[:, None] * steps
    return np.asarray(near[np.argmin(((near - end) ** 2).sum(axis=1))])


def _moved(places: Floats, move: Floats) -> Floats:
    """How each place moves as the last one does."""
    way = places[1:] - places[:-1]
    before = np.zeros(len(places))
    before[:-1] = np.cumsum(np.hypot(way[::-1, 0], way[::-1, 1]))[::-1]
    share = np.maximum(1 - before / max(_WITH_IT * float(np.hypot(*move)), _LEAST_MM), 0)
    # What is short moves less at its other end, which may lie on a line as well.
    share = np.minimum(share, 1 - before / max(before[0], 1e-9))
    share = share * share * (3 - 2 * share)
    return np.asarray(share[:, None] * move)
