"""Lines of what is built lie on the picture's straight edges wherever they run beside one.

A line that wanders from one side of a bar to the other has votes for each segment beside it, and
lies on that which has most: on the longest of those that are near and plain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.ruling.fitting import Stretches
from worker.picture.outline.ruling.segments import Segments

#: A segment is followed where it is within so many times as near as a place is known, but for
#: the first distance; where it is parallel by this cosine to the way over so many mm to either
#: side; and for so long at least, altogether and at a time.
_REACH, _LEAST_MM, _COSINE, _COURSE_MM, _FOLLOWED_MM, _RUN_MM = 1.5, 0.6, 0.9, 1.5, 3.0, 2.0
#: A ruled line lies on a segment that is as parallel, by this sine, if it is further off than this.
_ALIKE_SINE, _OFF_MM = 0.05, 0.3
#: What is further aside than this part of the reach has less of a vote, and what has less contrast.
_FADE, _PLAIN_LEVELS = 0.6, 40.0
#: Segments are painted into such squares, no finer than lines have places, in such steps of them;
#: and looked for across a line in such steps.
_CELL_MM, _PAINTED, _ACROSS = 0.5, 0.7, 0.8


@dataclass(frozen=True, kw_only=True, eq=False)
class _Beside:
    """Places beside segments: one row for each pair.

    Attributes:
        place, segment: The pair.
        aside: How far the place is aside of the segment, with the side, in mm.
    """

    place: Ints
    segment: Ints
    aside: Floats

    def taken(self, which: Flags | Ints) -> _Beside:
        return _Beside(
            place=self.place[which], segment=self.segment[which], aside=self.aside[which]
        )


def followed(lines: Polylines, near: Floats, segments: Segments, free: Flags) -> Ints:
    """The segment that each place follows, or -1.

    Args:
        lines: All of them.
        near: How near each place is known.
        segments: Of the picture.
        free: Which places may follow any.
    """
    on = np.full(len(lines.places), -1, np.int64)
    if len(segments) and free.any():
        reach = _REACH * np.maximum(near, _LEAST_MM)
        best = _best(lines, _pairs(lines, reach, segments, free), segments, reach)
        on[best.place] = best.segment
    return on


def following(lines: Polylines, segments: Segments, on: Ints) -> Stretches:
    """Stretches of lines on the segments that they follow.

    Args:
        lines: All of them.
        segments: Of the picture.
        on: The segment that each place follows, or -1.
    """
    run = np.cumsum((np.diff(on, prepend=-2) != 0) | (np.diff(lines.owner, prepend=-1) != 0)) - 1
    begin = np.flatnonzero(np.diff(run, prepend=-1))
    end = np.append(begin[1:], len(on)) - 1
    # What is followed for a moment only is crossed.
    along = lines.along_mm
    long = (on[begin] >= 0) & (along[end] - along[begin] >= _RUN_MM)
    segment = on[begin][long]
    return Stretches(
        begin=begin[long],
        end=end[long],
        middle=segments.start[segment],
        way=segments.ways[segment],
    )


def laid_on(lines: Polylines, stretches: Stretches, segments: Segments, on: Ints) -> Stretches:
    """Stretches that lie on the segment which most of each follows, if they lie beside it.

    Args:
        lines: Of which they are.
        stretches: That are ruled.
        segments: Of the picture.
        on: The segment that each place follows, or -1.
    """
    if not len(segments) or not len(stretches):
        return stretches
    counts = stretches.end - stretches.begin + 1
    owner = np.repeat(np.arange(len(stretches)), counts)
    at = np.arange(len(owner)) - (np.cumsum(counts) - counts - stretches.begin)[owner]
    key, many = np.unique(owner * (len(segments) + 1) + on[at] + 1, return_counts=True)
    stretch, segment = np.divmod(key, len(segments) + 1)
    most = (segment > 0) & (many > counts[stretch] / 2)
    stretch, segment = stretch[most], segment[most] - 1
    start, ways = segments.start[segment], segments.ways[segment]
    way, rest = stretches.way[stretch], stretches.middle[stretch] - start
    alike = np.abs(way[:, 0] * ways[:, 1] - way[:, 1] * ways[:, 0]) < _ALIKE_SINE
    beside = np.abs(rest[:, 0] * ways[:, 1] - rest[:, 1] * ways[:, 0]) > _OFF_MM
    long = segments.lengths_mm[segment] > stretches.lengths_mm(lines)[stretch] / 2
    moved = alike & beside & long
    middle, way = stretches.middle.copy(), stretches.way.copy()
    middle[stretch[moved]], way[stretch[moved]] = start[moved], ways[moved]
    return replace(stretches, middle=middle, way=way)


def _pairs(lines: Polylines, reach: Floats, segments: Segments, free: Flags) -> _Beside:
    """All places with the segments that they are beside."""
    cell_mm = max(_CELL_MM, lines.usual_step_mm)
    way, painted = courses(lines, _COURSE_MM), _Painted(segments, cell_mm)
    most, step_mm = float(reach.max()), _ACROSS * cell_mm
    place, segment = [], []
    for far in np.arange(-most, most + step_mm, step_mm):
        found = painted.at(lines.places + far * way[:, ::-1] * (-1, 1))
        place.append(np.flatnonzero((found >= 0) & free))
        segment.append(found[place[-1]])
    both = np.unique(np.concatenate(place) * len(segments) + np.concatenate(segment))
    at, of = np.divmod(both, len(segments))
    rest, ways = lines.places[at] - segments.start[of], segments.ways[of]
    aside = rest[:, 1] * ways[:, 0] - rest[:, 0] * ways[:, 1]
    along = (rest * ways).sum(axis=1)
    good = (np.abs(aside) < reach[at]) & (np.abs((way[at] * ways).sum(axis=1)) > _COSINE)
    good &= (along > -cell_mm) & (along < segments.lengths_mm[of] + cell_mm)
    return _Beside(place=at, segment=of, aside=aside).taken(good)


def _best(lines: Polylines, beside: _Beside, segments: Segments, reach: Floats) -> _Beside:
    """For each place at most one segment: that which its line has most votes for."""
    owner, step_mm = lines.owner, lines.usual_step_mm
    key = owner[beside.place] * len(segments) + beside.segment
    number = np.unique(key, return_inverse=True)[1]
    vote = np.exp(-((beside.aside / (_FADE * reach[beside.place])) ** 2))
    vote *= np.minimum(segments.levels[beside.segment] / _PLAIN_LEVELS, 1)
    votes = np.bincount(number, vote)[number]
    long = (np.bincount(number) * step_mm >= _FOLLOWED_MM)[number]
    beside, votes = beside.taken(long), votes[long]
    order = np.lexsort((-votes, beside.place))
    return beside.taken(order[np.diff(beside.place[order], prepend=-1) > 0])


class _Painted:
    """Segments in squares, those of most contrast on top."""

    def __init__(self, segments: Segments, cell_mm: float) -> None:
        self._cell_mm = cell_mm
        order = np.argsort(segments.levels, kind="stable")
        many = np.ceil(segments.lengths_mm[order] / (_PAINTED * cell_mm)).astype(np.int64) + 1
        owner = np.repeat(order, many)
        step = np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)
        share = (step / np.maximum(np.repeat(many, many) - 1, 1))[:, None]
        start = segments.start[owner]
        at = self._cells(start + share * (segments.stop[owner] - start))
        self._squares = np.full(tuple(at.max(axis=0) + 1), -1, np.int32)
        self._squares[at[:, 0], at[:, 1]] = owner

    def at(self, places: Floats) -> Ints:
        """The segment at each place, or -1."""
        at = self._cells(places)
        inside = (at < self._squares.shape).all(axis=1)
        found = self._squares[tuple(np.where(inside[:, None], at, 0).T)]
        return np.where(inside, found, -1).astype(np.int64)

    def _cells(self, places: Floats) -> Ints:
        return np.asarray(np.rint(np.maximum(places, 0) / self._cell_mm).astype(np.int64))
