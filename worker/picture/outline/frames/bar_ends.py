"""Bars end on what they stand on and on what they carry.

Edges fade below the eaves. So both sides of a bar go on to the next line ahead. What meets nothing
is no column but a streak, and no bar is made of it. A bend of its own line is met as well: the
reading often has the post and what it carries as one line. Without that, posts and pipes lost a
side or both.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from worker.picture.outline.frames.bar_pieces import whole
from worker.picture.outline.frames.bars import Bars, bars_of
from worker.picture.outline.frames.painted_edges import PaintedEdges
from worker.picture.outline.polylines import Flags, Floats, Polylines, joined_lines
from worker.picture.outline.ruling.ahead import ahead
from worker.picture.outline.ruling.straightening import Ruled

#: A stretch is looked at if more than this of it has not given way to frames.
_FREE = 0.5
#: What bars end on is looked at in one in so many places of lines.
_THINNED = 3
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
    long = bars.lengths_mm
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


def _thinned(lines: Polylines, which: Flags) -> Polylines:
    """Lines through one in so many of some places, parted where others are between."""
    at = np.flatnonzero(which)
    at = at[(at - lines.first[lines.owner[at]]) % _THINNED == 0]
    new = (np.diff(at, prepend=-_THINNED) != _THINNED) | (np.diff(lines.owner[at], prepend=-1) != 0)
    first = np.append(np.flatnonzero(new), len(at))
    return Polylines(
        places=lines.places[at], first=first, closed=np.zeros(len(first) - 1, np.bool_)
    )
