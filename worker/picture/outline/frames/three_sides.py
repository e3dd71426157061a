"""Three sides of a frame: straight edges that turn twice the same way, around dark or light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.points.edge_points import EDGE
from worker.picture.outline.polylines import Flags, Floats, Ints
from worker.picture.outline.ruling.segments import Segments

#: Sides are so long, and turn by more than this sine.
SHORTEST_MM, LONGEST_MM, _TURN = 3.0, 120.0, 0.82
#: A segment reaches so far to a corner, but no further than it is long; and passes it.
_REACH_MM, _PASSES = 12.0, 0.9
#: A segment has this part of the side between the others, which face each other by this cosine;
#: and the shorter of these has so much of the longer.
_HAS, _FACING, _AS_LONG = 0.25, -0.95, 0.2
#: Lines are drawn along so many of the three.
_DRAWN = 2
#: So many segments are looked at: the longest of those with lines along them, then of others.
_MOST = 900
#: Each turns into so many others, and there are so many threes around dark and around light, those
#: whose ends meet most nearly: a grid of bars, each of which crosses all others, has millions.
_MOST_CORNERS, _MOST_THREES = 16, 2500


@dataclass(frozen=True, kw_only=True, eq=False)
class ThreeSides:
    """Frames of which one side is open.

    Attributes:
        one, two: The corners between three sides; (frames, 2).
        way_one, way_two: Unit vectors from them along the sides that face each other.
        long_one, long_two: How long these are, in mm.
        dark: Whether what is inside is darker than what is outside.
    """

    one: Floats
    two: Floats
    way_one: Floats
    way_two: Floats
    long_one: Floats
    long_two: Floats
    dark: Flags

    def __len__(self) -> int:
        """How many."""
        return len(self.dark)

    def taken(self, which: slice | Flags) -> ThreeSides:
        """Some of them."""
        names = ThreeSides.__dataclass_fields__
        return ThreeSides(**{name: getattr(self, name)[which] for name in names})


def three_sides(segments: Segments, drawn: Flags) -> ThreeSides:
    """All threes of segments that may be sides of a frame.

    Args:
        segments: Edges of the picture.
        drawn: Which have lines along them: two of three have, at least.
    """
    parts = [_around(*_directed(segments, drawn, dark=dark), dark=dark) for dark in (True, False)]
    return ThreeSides(
        **{
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ThreeSides.__dataclass_fields__
        }
    )


def _directed(segments: Segments, drawn: Flags, *, dark: bool) -> tuple[Floats, Floats, Flags]:
    """Start and stop of segments, so that what is inside has positive cross products; and `drawn`.

    What is no edge of light and dark, as a thin line, is of the frames on both of its sides.
    """
    order = _looked_at(segments, drawn)
    start, stop, drawn = segments.start[order], segments.stop[order], drawn[order]
    thin = segments.kind[order] != EDGE
    on, back = thin | (not dark), thin | dark
    return (
        np.concatenate((start[on], stop[back])),
        np.concatenate((stop[on], start[back])),
        np.concatenate((drawn[on], drawn[back])),
    )


def _looked_at(segments: Segments, drawn: Flags) -> Ints:
    """Segments that are looked at, the longest first."""
    order = np.argsort(-segments.lengths_mm, kind="stable")
    return np.asarray(order[np.sort(np.argsort(~drawn[order], kind="stable")[:_MOST])])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Corners:
    """Where one segment turns into another: `on_one` and `on_two` mm from their starts.

    The end of one and the start of the other are `off` mm from there, together.
    """

    one: Ints
    two: Ints
    place: Floats
    on_one: Floats
    on_two: Floats
    off: Floats


def _corners(start: Floats, way: Floats, long: Floats) -> _Corners:
    reach = np.minimum(_REACH_MM, long)
    stop = start + long[:, None] * way
    low, high = (
        np.minimum(start, stop) - reach[:, None],
        np.maximum(start, stop) + reach[:, None],
    )
    x, y = way.astype(np.float32).T
    turn = x[:, None] * y - y[:, None] * x
    may = turn > np.float32(_TURN)
    for axis in (0, 1):
        may &= (low[:, None, axis] < high[:, axis]) & (high[:, None, axis] > low[:, axis])
    one, two = np.nonzero(may)
    rest, sine = start[two] - stop[one], turn[one, two]
    beyond = (rest[:, 0] * way[two, 1] - rest[:, 1] * way[two, 0]) / sine
    after = (rest[:, 0] * way[one, 1] - rest[:, 1] * way[one, 0]) / sine
    good = (beyond < reach[one]) & (beyond > -_PASSES * long[one])
    good &= (after > -reach[two]) & (after < _PASSES * long[two])
    good &= (np.abs(beyond) < reach[one]) | (np.abs(after) < reach[two])
    off = np.abs(beyond) + np.abs(after)
    good[good] = _nearest_of_each(one[good], off[good])
    one, two, beyond, after, off = (each[good] for each in (one, two, beyond, after, off))
    return _Corners(
        one=one,
        two=two,
        place=stop[one] + beyond[:, None] * way[one],
        on_one=long[one] + beyond,
        on_two=after,
        off=off,
    )


def _nearest_of_each(one: Ints, off: Floats) -> Flags:
    """Which corners are kept; they are in the order of their first segments."""
    order = np.lexsort((off, one))
    keep = np.empty(len(one), np.bool_)
    keep[order] = np.arange(len(one)) - np.searchsorted(one, one) < _MOST_CORNERS
    return keep


def _around(start: Floats, stop: Floats, drawn: Flags, *, dark: bool) -> ThreeSides:
    long = np.hypot(*(stop - start).T)
    way = (stop - start) / long[:, None]
    at = _corners(start, way, long)
    # Each corner with all that follow on its second segment.
    order = np.argsort(at.one, kind="stable")
    low, high = (np.searchsorted(at.one[order], at.two, side) for side in ("left", "right"))
    count = high - low
    first = np.repeat(np.arange(len(at.one)), count)
    follows = np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)
    second = order[low[first] + follows]
    side = at.on_one[second] - at.on_two[first]
    has = np.minimum(at.on_one[second], long[at.two[first]]) - np.maximum(at.on_two[first], 0)
    one, two = at.one[first], at.two[second]
    good = (side > SHORTEST_MM) & (side < LONGEST_MM) & (has > _HAS * side)
    good &= (way[one] * way[two]).sum(axis=1) < _FACING
    good &= drawn[one].astype(np.int64) + drawn[at.two[first]] + drawn[two] >= _DRAWN
    long_one, long_two = at.on_one[first], long[two] - at.on_two[second]
    good &= np.minimum(long_one, long_two) > _AS_LONG * np.maximum(long_one, long_two)
    good &= np.maximum(long_one, long_two) > SHORTEST_MM
    good[good] = _nearest(at.off[first[good]] + at.off[second[good]])
    first, second, one, two = first[good], second[good], one[good], two[good]
    return ThreeSides(
        one=at.place[first],
        two=at.place[second],
        way_one=-way[one],
        way_two=way[two],
        long_one=long_one[good],
        long_two=long_two[good],
        dark=np.full(len(first), dark),
    )


def _nearest(off: Floats) -> Flags:
    """Which threes are kept."""
    keep = np.zeros(len(off), np.bool_)
    keep[np.argsort(off, kind="stable")[:_MOST_THREES]] = True
    return keep
