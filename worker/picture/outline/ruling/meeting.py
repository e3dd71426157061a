"""Where ruled stretches meet: corners are sharp, and frames are closed.

A coarse map turns a corner in a curve, and a line ends a little before the one that it runs into.
A draughtsman rules both lines until they cross. So two stretches of one line, one after the other,
go on to their crossing where the curve between is no further from it than places are known; and
the open end of a ruled line goes on to another ruled line nearby, or both to their crossing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.ruling.fitting import Stretches

#: Lines that cross at less than this have no corner.
_LEAST_SINE = 0.3
#: Rounded corners are sharp if they are no further from it than so many times as near as their
#: places are known, and the way between two stretches is no longer than this;
_ROUND, _LONGEST_MM = 2.0, 8.0
#: or so many times, where the way is shorter than both stretches, times this, and than this.
_WIDELY_ROUND, _WAY, _WIDELY_MM = 3.2, 1.5, 14.0
#: An open end reaches so far, and gives up so much less; what of a line is beyond its last
#: stretch is no more than frayed if it is this short, in mm and in parts of the stretch.
_REACH_MM, _BACK, _TAIL_MM, _TAIL = 4.0, 0.4, 2.5, 0.25


@dataclass(frozen=True, kw_only=True, eq=False)
class Ways(Stretches):
    """Stretches that are ruled, in the order of the lines.

    Attributes:
        start, stop: Where each begins and ends; (stretches, 2).
    """

    start: Floats
    stop: Floats

    def written(self, places: Floats) -> Floats:
        """Places with those of stretches on their way from start to stop."""
        places = places.copy()
        counts = self.end - self.begin + 1
        owner = np.repeat(np.arange(len(self)), counts)
        at = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner] + self.begin[owner]
        chord = (places[self.end] - places[self.begin])[owner]
        rest = places[at] - places[self.begin][owner]
        share = (rest * chord).sum(axis=1) / np.maximum((chord**2).sum(axis=1), 1e-12)
        share = np.clip(share, 0, 1)[:, None]
        share[at == self.end[owner]] = 1.0
        places[at] = self.start[owner] + share * (self.stop - self.start)[owner]
        return places

    def joined(self) -> Ways:
        """With one place where one ends and the next begins, between both lines."""
        start, stop = self.start.copy(), self.stop.copy()
        one = np.flatnonzero(self.end[:-1] == self.begin[1:])
        mean = (stop[one] + start[one + 1]) / 2
        stop[one] = start[one + 1] = mean
        return replace(self, start=start, stop=stop)


def ruled_ways(places: Floats, stretches: Stretches) -> Ways:
    """Stretches that end where their last places are nearest to."""
    start, stop = (
        stretches.middle
        + ((places[at] - stretches.middle) * stretches.way).sum(axis=1)[:, None] * stretches.way
        for at in (stretches.begin, stretches.end)
    )
    return Ways(
        begin=stretches.begin,
        end=stretches.end,
        middle=stretches.middle,
        way=stretches.way,
        start=start,
        stop=stop,
    )


def with_corners(lines: Polylines, ways: Ways, near: Floats) -> Ways:
    """Stretches that go on to where they cross the next one of their line.

    Args:
        lines: Of which they are.
        ways: Of them.
        near: How near each place is known.
    """
    if len(ways) < 2:  # noqa: PLR2004 - a corner has two sides.
        return ways
    s, owner, along = ways, lines.owner, lines.along_mm
    one = np.arange(len(s) - 1)
    cross, sine = _crossings(s, one, one + 1)
    gap = along[s.begin[1:]] - along[s.end[:-1]]
    long = along[s.end] - along[s.begin]
    wide = gap < _WAY * np.minimum(long[1:], long[:-1])
    good = (owner[s.begin[1:]] == owner[s.end[:-1]]) & (sine > _LEAST_SINE)
    good &= gap <= np.where(wide, _WIDELY_MM, _LONGEST_MM)
    # Of the way between, the place nearest to the crossing is the corner.
    one = one[good]
    counts = s.begin[one + 1] - s.end[one] + 1
    heads = np.cumsum(counts) - counts
    pair = np.repeat(np.arange(len(one)), counts)
    at = np.arange(len(pair)) - heads[pair] + s.end[one][pair]
    if not len(at):
        return s
    off = np.hypot(*(lines.places[at] - cross[good][pair]).T)
    least = np.minimum.reduceat(off, heads)
    nearest = np.flatnonzero(off <= least[pair])
    corner = at[nearest[np.searchsorted(pair[nearest], np.arange(len(one)))]]
    sharp = least <= np.where(wide[one], _WIDELY_ROUND, _ROUND) * near[corner]
    one, corner, cross = one[sharp], corner[sharp], cross[good][sharp]
    begin, end, start, stop = s.begin.copy(), s.end.copy(), s.start.copy(), s.stop.copy()
    end[one] = begin[one + 1] = corner
    stop[one] = start[one + 1] = cross
    return replace(s, begin=begin, end=end, start=start, stop=stop)


def with_ends(lines: Polylines, ways: Ways, built: Flags) -> Ways:
    """Stretches whose open ends meet others.

    Args:
        lines: Of which they are.
        ways: Of them.
        built: Lines whose ends do.
    """
    if not built.any() or not len(ways):
        return ways
    s, owner, along = ways, lines.owner, lines.along_mm
    first, last = lines.first[owner[s.begin]], lines.first[owner[s.begin] + 1] - 1
    open_ = (built & ~lines.closed)[owner[s.begin]]
    short = np.minimum(_TAIL_MM, _TAIL * (along[s.end] - along[s.begin]))
    head = open_ & (along[s.begin] - along[first] <= short)
    tail = open_ & (along[last] - along[s.end] <= short)
    begin, end = np.where(head, first, s.begin), np.where(tail, last, s.end)
    s = replace(s, begin=begin, end=end)
    start, stop = s.start.copy(), s.stop.copy()
    for places, other, free in ((start, s.stop, head), (stop, s.start, tail)):
        one = np.flatnonzero(free)
        met, there = _met(s, one, places[one], other[one])
        places[one[met]] = there[met]
    return replace(s, start=start, stop=stop)


def _crossings(s: Ways, one: Ints, two: Ints) -> tuple[Floats, Floats]:
    """Where lines of stretches cross, and the sine of the angle between."""
    sine = _cross(s.way[one], s.way[two])
    far = _cross(s.middle[two] - s.middle[one], s.way[two]) / np.where(sine == 0, 1.0, sine)
    return s.middle[one] + far[:, None] * s.way[one], np.abs(sine)


def _met(s: Ways, one: Ints, place: Floats, other: Floats) -> tuple[Flags, Floats]:
    """Where ends meet the nearest line of another stretch, if any does."""
    pair, two = _nearby(s, place)
    apart = one[pair] != two
    pair, two = pair[apart], two[apart]
    out, length = _units(place[pair] - other[pair])
    way, long = _units(s.stop[two] - s.start[two])
    sine = _cross(out, way)
    safe = np.where(np.abs(sine) > _LEAST_SINE, sine, 1.0)
    rest = s.start[two] - place[pair]
    far, along = _cross(rest, way) / safe, _cross(rest, out) / safe
    beyond = np.maximum(np.maximum(-along, along - long), 0)
    good = (np.abs(sine) > _LEAST_SINE) & (far <= _REACH_MM) & (beyond <= _REACH_MM)
    good &= far >= -np.minimum(_BACK * _REACH_MM, length / 2)
    pair, cost, there = (
        pair[good],
        np.maximum(np.abs(far), beyond)[good],
        (far[:, None] * out)[good],
    )
    order = np.lexsort((cost, pair))
    best = order[np.diff(pair[order], prepend=-1) > 0]
    met = np.zeros(len(one), np.bool_)
    met[pair[best]] = True
    found = place.copy()
    found[pair[best]] += there[best]
    return met, found


def _nearby(s: Ways, place: Floats) -> tuple[Ints, Ints]:
    """Pairs of places and stretches in whose boxes, so much larger, they are."""
    low, high = (
        np.minimum(s.start, s.stop) - 2 * _REACH_MM,
        np.maximum(s.start, s.stop) + 2 * _REACH_MM,
    )
    inside = np.ones((len(place), len(s)), np.bool_)
    for axis in (0, 1):
        at = place[:, axis, None]
        inside &= (at > low[:, axis]) & (at < high[:, axis])
    pair, two = np.nonzero(inside)
    return pair, two


def _cross(one: Floats, two: Floats) -> Floats:
    return np.asarray(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])


def _units(vectors: Floats) -> tuple[Floats, Floats]:
    """Unit vectors, and the lengths there were."""
    length = np.maximum(np.hypot(vectors[:, 0], vectors[:, 1]), 1e-9)
    return vectors / length[:, None], length
