"""Lines give way to frames: what runs along a side is the frame's, and short rests are nothing.

The reading's lines wander along a window, over to its bars and back. Where a frame is drawn, they
are left out beside its sides, with the short ends between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.frames.alongside import drawn_along
from worker.picture.outline.frames.bar_ends import inside, standing_bars
from worker.picture.outline.frames.closed_frames import Frames, frames_of
from worker.picture.outline.frames.drawn_sides import DrawnSides
from worker.picture.outline.frames.painted_edges import PaintedEdges
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.ruling.straightening import Ruled

#: A line is beside a side within this, and this part of the frame's shorter sides; and along it if
#: its course over some mm to either side is as parallel by this cosine.
_BESIDE_MM, _PART, _COURSE_MM, _ALONG = 2.0, 0.15, 1.5, 0.8
#: A frame is drawn if lines are so near along such a part of it: so the reading has it as well.
#: One that edges leave open needs more of that, unless it is like others. Lines run along it by
#: this cosine, and along three sides at least over so much: the tiles of a roof have but two.
_READ_MM, _READ, _READ_OPEN = 2.5, 0.6, 0.9
_READ_ALONG, _READ_SIDES = 0.8, 0.55
#: What is not straight so near outside of a frame, and along it as far as this cosine over so many
#: mm to either side, is the fray of what it is set in: quoins, bricks, a creeper; of a small one
#: that is nearer than this part of its shorter sides.
_FRAY_MM, _FRAY_PART, _FRAY_ALONG, _FRAY_COURSE_MM = 6.0, 0.4, 0.6, 5.0
#: What is left of a line is left out if it is this short.
_LEFT_MM = 6.0
#: A frame is as heavy as this part of the line that gives way to it.
_HEAVY = 0.25

_Weights = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True, eq=False)
class GivenWay:
    """Lines with frames.

    Attributes:
        stays: Which places of lines are drawn.
        frames: The lines of frames.
        weight: Of each of these.
    """

    stays: Flags
    frames: Polylines
    weight: _Weights


def framed(ruled: Ruled, weight: _Weights) -> GivenWay:
    """Lines with the frames that a picture has where they are.

    Args:
        ruled: The lines.
        weight: Of each.
    """
    if ruled.seen is None:
        return GivenWay(
            stays=np.ones(len(ruled.lines.places), np.bool_),
            frames=DrawnSides().lines,
            weight=np.zeros(0, np.uint8),
        )
    drawn = drawn_along(ruled.seen.segments, ruled.lines, ruled.built)
    painted = PaintedEdges(ruled.seen.edges)
    return given_way(ruled, weight, frames_of(ruled.seen, drawn, painted), painted)


def given_way(
    ruled: Ruled, weight: _Weights, frames: Frames, painted: PaintedEdges | None = None
) -> GivenWay:
    """Which lines stay where frames and bars are drawn.

    Args:
        ruled: The lines.
        weight: Of each.
        frames: The likeliest first.
        painted: The picture's edges, by which bars are found, if they are known.
    """
    lines, owners = ruled.lines, ruled.lines.owner
    course, places = courses(lines, _COURSE_MM), _Built(ruled.lines, owners, ruled.built)
    wide_course = courses(lines, _FRAY_COURSE_MM)
    gone = np.zeros(len(lines.places), np.bool_)
    sides, drawn = DrawnSides(), list[Floats]()
    least = np.where(frames.alike | frames.sure, _READ, _READ_OPEN)
    for corners, read in zip(frames.corners, least, strict=True):
        near = places.around(corners)
        beside = _Beside.of(lines.places[near], course[near], corners)
        if beside.read < read or beside.sides < _READ_SIDES:
            continue
        gone[near[beside.along]] = True
        frayed = _frayed(lines.places[near], wide_course[near], corners)
        gone[near[frayed & ~ruled.straight[near]]] = True
        owner = owners[near[beside.along]]
        share = np.bincount(weight[owner], minlength=1) / max(len(owner), 1)
        drawn.append(corners)
        sides.draw(corners, int(np.flatnonzero(share >= min(_HEAVY, share.max()))[-1]))
    if painted is not None and ruled.uprights is not None:
        may = places.all & ~gone & ~painted.lettered(lines.places)
        bars = standing_bars(ruled, painted, may, drawn, sides.lines)
        for at in range(len(bars)):
            near = places.around(np.concatenate((bars.one[at], bars.two[at])))
            along = (np.abs(course[near] @ bars.way(at)) > _ALONG) & may[near]
            gone[near[along & inside(bars, at, lines.places[near], _BESIDE_MM)]] = True
            sides.draw_bar((bars.one[at], bars.two[at]), int(weight[owners[bars.begin[at]]]))
    gone |= _left_over(lines, gone)
    return GivenWay(stays=~gone, frames=sides.lines, weight=np.array(sides.weight, np.uint8))


def _frayed(places: Floats, course: Floats, corners: Floats) -> Flags:
    """Places so near outside of a frame, along a side of it."""
    way = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*way.T)
    way /= length[:, None]
    rest = places[:, None] - corners
    on = (rest * way).sum(axis=2)
    outside = rest[..., 0] * way[:, 1] - rest[..., 1] * way[:, 0]
    along = np.abs((course[:, None] * way).sum(axis=2)) > _FRAY_ALONG
    reach = min(_FRAY_MM, _FRAY_PART * float(length.min()))
    near = (outside > 0) & (outside < reach) & (on > -reach) & (on < length + reach)
    return np.asarray((near & along).any(axis=1))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Beside:
    """Places beside a frame.

    Attributes:
        along: Which run along a side.
        read: How much of the frame has places near that run along it, 0 to 1.
        sides: The same of the third of its sides.
    """

    along: Flags
    read: float
    sides: float

    @classmethod
    def of(cls, places: Floats, course: Floats, corners: Floats) -> _Beside:
        """Places around a frame, with the course of their lines."""
        way = np.roll(corners, -1, axis=0) - corners
        length = np.hypot(*way.T)
        way /= length[:, None]
        rest = places[:, None] - corners
        on = (rest * way).sum(axis=2)
        aside = np.abs(rest[..., 0] * way[:, 1] - rest[..., 1] * way[:, 0])
        reach = min(_BESIDE_MM, _PART * float(length.min()))
        parallel = np.abs((course[:, None] * way).sum(axis=2)) > _ALONG
        beyond = np.maximum(np.maximum(-on, on - length), 0)
        along = (np.maximum(aside, beyond) < reach) & parallel
        # Millimetres of sides that lines are near.
        side = np.broadcast_to(np.arange(4), on.shape)
        near = (aside < _READ_MM) & (beyond == 0)
        near &= np.abs((course[:, None] * way).sum(axis=2)) > _READ_ALONG
        met = np.unique(side[near] * 1000 + on[near].astype(np.int64))
        each = np.bincount(met // 1000, minlength=4) / np.ceil(length)
        return cls(
            along=along.any(axis=1),
            read=len(met) / float(np.ceil(length).sum()),
            sides=float(np.sort(each)[1]),
        )


class _Built:
    """Places of lines of what is built, in the order of how far across they are.

    Attributes:
        all: Which places of lines are such.
    """

    def __init__(self, lines: Polylines, owner: Ints, built: Flags) -> None:
        self.all = built[owner]
        mine = np.flatnonzero(self.all)
        self._order = mine[np.argsort(lines.places[mine, 0], kind="stable")]
        self._x, self._y = lines.places[self._order].T

    def around(self, corners: Floats) -> Ints:
        """Those in the box of a frame, or so near, as they are along their lines."""
        low, high = corners.min(axis=0) - _FRAY_MM, corners.max(axis=0) + _FRAY_MM
        first, last = np.searchsorted(self._x, (low[0], high[0]))
        some = self._order[first:last]
        y = self._y[first:last]
        return np.asarray(np.sort(some[(y > low[1]) & (y < high[1])]))


def _left_over(lines: Polylines, gone: Flags) -> Flags:
    """Places of short parts that are left of lines."""
    steps = np.hypot(*np.diff(lines.places, axis=0, append=lines.places[-1:]).T)
    steps[lines.first[1:] - 1] = 0
    owner = lines.owner
    run = np.cumsum((np.diff(gone, prepend=False)) | (np.diff(owner, prepend=-1) != 0)) - 1
    cut = np.bincount(owner, gone, len(lines.closed)) > 0
    return np.asarray(~gone & cut[owner] & (np.bincount(run, steps)[run] < _LEFT_MM))
