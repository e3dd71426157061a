"""Pieces of one bar are one: brackets and shade break a column, and two lines may run along it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.frames.bars import Bars
from worker.picture.outline.polylines import Flags, Floats, Ints

#: Pieces are of one bar where the sides of one are no further off those of the other, and the gap
#: between is no longer than this and than the longer one.
_OFF_MM, _GAP_MM = 1.5, 24.0
#: A shorter one that is in another or so near beside it, along so much of its length, is the other
#: once more.
_BESIDE_MM, _ALONG = 1.5, 0.5


def whole(bars: Bars) -> Bars:
    """Bars of which pieces are one.

    Args:
        bars: Of any lines.
    """
    pieces, long = np.stack((bars.one, bars.two), axis=1), bars.lengths_mm
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
