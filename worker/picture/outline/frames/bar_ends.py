"""Bars end on what they stand on and on what they carry.

Brackets and shade break a column into pieces, and edges fade below the eaves. So pieces of one bar
are one, and both of its sides go on to the next line ahead. What meets nothing is no column but a
streak, and no bar is made of it. A bend of its own line is met as well: the reading often has the
post and what it carries as one line. Without that, posts and pipes lost a side or both.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.frames.bars import Bars, bars_of
from worker.picture.outline.frames.painted_edges import PaintedEdges
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, dots, joined_lines
from worker.picture.outline.ruling.ahead import ahead
from worker.picture.outline.ruling.straightening import Ruled

#: A stretch is looked at if more than this of it has not given way to frames.
_FREE = 0.5
#: What bars end on is looked at in one in so many places of lines.
_THINNED = 3
#: Pieces are of one bar where the sides of one are no further off those of the other, and the gap
#: between is no longer than this and than the longer one.
_OFF_MM, _GAP_MM = 1.5, 24.0
#: A shorter one that is in another or so near beside it, along so much of its length, is the other
#: once more.
_BESIDE_MM, _ALONG = 1.5, 0.5
#: A line that runs in a bar is no further out of it.
_OUT_MM = 1.5
#: Sides go on so far, but no further than this part of their length; and end so much earlier if
#: they pass what they meet.
_REACH_MM, _PART, _BACK_MM = 14.0, 0.75, 3.0
#: A bar is so many times as long as wide; one of which one end alone meets something is so long.
_SLENDER, _FREE_MM = 4.5, 30.0


def standing_bars(
    ruled: Ruled, painted: PaintedEdges, may: Flags, frames: list[Floats], sides: Polylines
) -> Bars:
    """Bars that are drawn, where most of what stands leans alike.

    Args:
        ruled: Lines of what is built.
        painted: The picture's edges.
        may: Places of lines that may be of bars, and that bars may end on.
        frames: Those that are drawn, (4, 2) each: these have their own bars.
        sides: All lines of these, which bars may end on as well.
    """
    ways, lines = ruled.ways, ruled.lines
    if ruled.uprights is None or ways is None:
        return Bars.none()
    free = np.concatenate(([0], np.cumsum(may)))
    share = (free[ways.end + 1] - free[ways.begin]) / (ways.end + 1 - ways.begin)
    bars = bars_of(ways, share > _FREE, ruled.uprights, painted)
    bars = whole(lengthened(bars.taken(~_within_any(bars, frames)), lines))
    return ended(bars, joined_lines(_thinned(lines, may), sides))


def whole(bars: Bars) -> Bars:
    """Bars of which pieces are one.

    Args:
        bars: Of any lines.
    """
    pieces, long = np.stack((bars.one, bars.two), axis=1), _lengths(bars)
    sides, across = pieces.copy(), _Across.of(pieces)
    left, kept = np.ones(len(bars), np.bool_), np.zeros(len(bars), np.bool_)
    for at in np.argsort(-long, kind="stable").tolist():
        if not left[at]:
            continue
        left[at], kept[at], way, joins = False, True, bars.way(at), True
        while joins:
            near = across.near(sides[at], way)
            near = near[left[near]]
            placed = _Placed.of(pieces[near], pieces[at], sides[at], way)
            joins = bool(placed.same.any())
            left[near[placed.same]] = False
            sides[at] = placed.joined(sides[at], way)
        left[near[placed.beside & (placed.gap < -_ALONG * long[near])]] = False
    return replace(bars, one=sides[:, 0], two=sides[:, 1]).taken(kept)


def lengthened(bars: Bars, lines: Polylines) -> Bars:
    """Bars as long as their lines run in them, or nearly.

    Args:
        bars: Of lines.
        lines: These.
    """
    one, two = bars.one.copy(), bars.two.copy()
    for at in range(len(bars)):
        owner = lines.owner[bars.begin[at]]
        first, last = lines.first[owner], lines.first[owner + 1]
        way, across = bars.way(at), bars.way(at)[::-1] * (-1, 1)
        rest = lines.places[first:last] - one[at, 0]
        off, wide = rest @ across, float((two[at, 0] - one[at, 0]) @ across)
        out = np.flatnonzero((off < -_OUT_MM) | (off > wide + _OUT_MM))
        begin = out[out < bars.begin[at] - first]
        end = out[out > bars.end[at] - first]
        run = slice(begin[-1] + 1 if len(begin) else 0, end[0] if len(end) else last - first)
        on = rest[run] @ way
        long = float((one[at, 1] - one[at, 0]) @ way)
        for side in (one, two):
            side[at, 1] += max(on.max() - long, 0.0) * way
            side[at, 0] += min(on.min(), 0.0) * way
    return replace(bars, one=one, two=two)


def ended(bars: Bars, lines: Polylines) -> Bars:
    """Bars that end on lines, those that meet some.

    Args:
        bars: Of any lines.
        lines: What they may end on, their own ones among them.
    """
    long = _lengths(bars)
    sides = np.stack((bars.one, bars.two), axis=1)
    back = np.minimum(_BACK_MM, long / 4)
    most = np.minimum(_REACH_MM, _PART * long) + back
    way = sides[:, :, 1] - sides[:, :, 0]
    way /= np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-9)[..., None]
    met = np.zeros((len(bars), 2), np.bool_)
    for end, out in ((0, -way), (1, way)):
        start = (sides[:, :, end] - back[:, None, None] * out).reshape(-1, 2)
        own = np.full(len(start), -1)
        far = ahead(start, out.reshape(-1, 2), np.repeat(most, 2), lines, own).reshape(-1, 2)
        # What one side alone meets ends the other as well.
        far = np.where(np.isfinite(far), far, far[:, ::-1])
        met[:, end] = np.isfinite(far[:, 0])
        on = np.where(met[:, end, None], far - back[:, None], 0.0)
        sides[:, :, end] += on[..., None] * out
    kept = met.all(axis=1) | (met.any(axis=1) & (long > _FREE_MM))
    wide = np.hypot(*(bars.two - bars.one).mean(axis=1).T)
    kept &= long > _SLENDER * wide
    return replace(bars, one=sides[:, 0], two=sides[:, 1]).taken(kept)


def inside(bars: Bars, at: int, places: Floats, beside_mm: float) -> Flags:
    """Which places are in one of some bars or so near beside it."""
    start, stop = bars.one[at]
    way = (stop - start) / max(float(np.hypot(*(stop - start))), 1e-9)
    across = way[::-1] * (-1, 1)
    on, off = (places - start) @ way, (places - start) @ across
    ends = (np.stack((bars.one[at], bars.two[at])) - start) @ way
    wide = float((bars.two[at, 0] - start) @ across)
    return np.asarray(
        (on > ends.min()) & (on < ends.max()) & (off > -beside_mm) & (off < wide + beside_mm)
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Across:
    """Bars in the order of how far across they are: of many, few are near to one.

    Attributes:
        order: Their numbers.
        low: Where each begins across, in this order.
        widest: How far the one that leans most goes across.
        beside: How far across of each other those may be that are one.
    """

    order: Ints
    low: Floats
    widest: float
    beside: float

    @classmethod
    def of(cls, sides: Floats) -> _Across:
        """Those of some sides, (bars, 2, 2, 2)."""
        low = sides[..., 0].min(axis=(1, 2))
        order = np.argsort(low, kind="stable")
        wide = np.hypot(*(sides[:, 1] - sides[:, 0]).mean(axis=1).T)
        return cls(
            order=order,
            low=low[order],
            widest=float((sides[..., 0].max(axis=(1, 2)) - low).max(initial=0.0)),
            beside=float(wide.max(initial=0.0)) + _OFF_MM,
        )

    def near(self, sides: Floats, way: Floats) -> Ints:
        """Which may go on or be beside one, (2, 2, 2)."""
        reach = self.beside + abs(_GAP_MM * way[0])
        low, high = sides[..., 0].min() - reach - self.widest, sides[..., 0].max() + reach
        first, last = np.searchsorted(self.low, (low, high))
        return np.sort(self.order[first:last])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Placed:
    """Where pieces are beside a bar.

    Attributes:
        ends: Where they begin and end along it, from where it began, and itself last; (2, many).
        gap: How far before or beyond it they are, in mm.
        same: Which are of it.
        beside: Which are in it, or so near beside it.
    """

    ends: Floats
    gap: Floats
    same: Flags
    beside: Flags

    @classmethod
    def of(cls, pieces: Floats, begun: Floats, grown: Floats, way: Floats) -> _Placed:
        """Pieces, (many, 2, 2, 2), beside a bar, as it was at first and as long as it is now."""
        start, across = begun[0, 0], way[::-1] * (-1, 1)
        along, off = (pieces - start) @ way, (pieces.mean(axis=2) - start) @ across
        low, high = along.min(axis=(1, 2)), along.max(axis=(1, 2))
        begin, end = (grown[0] - start) @ way
        one, two = (begun.mean(axis=1) - start) @ across
        gap = np.maximum(low - end, begin - high)
        same = (gap < min(_GAP_MM, end - begin)) & (np.abs(off - (one, two)) < _OFF_MM).all(axis=1)
        return cls(
            ends=np.stack((np.append(low, begin), np.append(high, end))),
            gap=gap,
            same=same,
            beside=(off[:, 0] < two + _BESIDE_MM) & (off[:, 1] > one - _BESIDE_MM),
        )

    def joined(self, grown: Floats, way: Floats) -> Floats:
        """Sides of the bar with those that are of it."""
        some = np.append(self.same, True)
        before = self.ends[0, some].min() - self.ends[0, -1]
        beyond = self.ends[1, some].max() - self.ends[1, -1]
        return grown + np.array((before, beyond))[:, None] * way


def _within_any(bars: Bars, frames: list[Floats]) -> Flags:
    """Which bars have their middles in frames, (4, 2) each: these have their own bars."""
    found = np.zeros(len(bars), np.bool_)
    middle = (bars.one + bars.two).mean(axis=1) / 2
    for corners in frames:
        way = np.roll(corners, -1, axis=0) - corners
        rest = middle[:, None] - corners
        turn = way[:, 0] * rest[..., 1] - way[:, 1] * rest[..., 0]
        found |= (turn > 0).all(axis=1) | (turn < 0).all(axis=1)
    return found


def _lengths(bars: Bars) -> Floats:
    way = bars.one[:, 1] - bars.one[:, 0]
    return np.sqrt(dots(way, way))


def _thinned(lines: Polylines, which: Flags) -> Polylines:
    """Lines through one in so many of some places, parted where others are between."""
    at = np.flatnonzero(which)
    at = at[(at - lines.first[lines.owner[at]]) % _THINNED == 0]
    new = (np.diff(at, prepend=-_THINNED) != _THINNED) | (np.diff(lines.owner[at], prepend=-1) != 0)
    first = np.append(np.flatnonzero(new), len(at))
    return Polylines(
        places=lines.places[at], first=first, closed=np.zeros(len(first) - 1, np.bool_)
    )
