"""Lines give way to frames: what runs along a side is the frame's, and short rests are nothing.

The reading's lines wander along a window, over to its bars and back. Where a frame is drawn, they
are left out beside its sides, with the short ends between.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.frames.closed_frames import Frames, frames_of
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.ruling.straightening import Ruled

#: A line is beside a side within this, and this part of the frame's shorter sides; and along it if
#: its course over some mm to either side is as parallel by this cosine.
_BESIDE_MM, _PART, _COURSE_MM, _ALONG = 2.0, 0.35, 1.5, 0.8
#: A frame is drawn if lines are so near along such a part of it: so the reading has it as well.
_READ_MM, _READ = 2.5, 0.6
#: What is left of a line is left out if it is this short.
_LEFT_MM = 6.0
#: A frame is as heavy as this part of the line that gives way to it.
_HEAVY = 0.25
#: Frames are drawn through places so far apart.
_STEP_MM = 0.4
#: A side is drawn if less than this of it has been drawn.
_DRAWN = 0.7

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
            frames=_Sides().lines,
            weight=np.zeros(0, np.uint8),
        )
    return given_way(ruled.lines, weight, ruled.built, frames_of(ruled.seen))


def given_way(lines: Polylines, weight: _Weights, built: Flags, frames: Frames) -> GivenWay:
    """Which lines stay where frames are drawn.

    Args:
        lines: In mm of the picture.
        weight: Of each.
        built: Which lines are of what is built.
        frames: The likeliest first.
    """
    course, mine = _course(lines), np.flatnonzero(built[lines.owner])
    gone = np.zeros(len(lines.places), np.bool_)
    sides = _Sides()
    for corners in frames.corners:
        near = mine[_around(lines.places[mine], corners)]
        beside = _Beside.of(lines.places[near], course[near], corners)
        if beside.read < _READ:
            continue
        gone[near[beside.along]] = True
        owner = lines.owner[near[beside.along]]
        share = np.bincount(weight[owner], minlength=1) / max(len(owner), 1)
        sides.draw(corners, int(np.flatnonzero(share >= min(_HEAVY, share.max()))[-1]))
    gone |= _left_over(lines, gone)
    return GivenWay(stays=~gone, frames=sides.lines, weight=np.array(sides.weight, np.uint8))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Beside:
    """Places beside a frame.

    Attributes:
        along: Which run along a side.
        read: How much of the frame has places near, 0 to 1.
    """

    along: Flags
    read: float

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
        parallel = np.abs(course @ way.T) > _ALONG
        beyond = np.maximum(np.maximum(-on, on - length), 0)
        along = (np.maximum(aside, beyond) < reach) & parallel
        # Millimetres of sides that lines are near.
        side = np.broadcast_to(np.arange(4), on.shape)
        near = (aside < _READ_MM) & (beyond == 0)
        met = np.unique(side[near] * 1000 + on[near].astype(np.int64))
        return cls(along=along.any(axis=1), read=len(met) / float(np.ceil(length).sum()))


class _Sides:
    """Sides that are drawn, each once."""

    def __init__(self) -> None:
        self.weight: list[int] = []
        self._drawn: list[Floats] = []
        self._start, self._way = np.zeros((0, 2)), np.zeros((0, 2))

    @property
    def lines(self) -> Polylines:
        """All that are drawn."""
        return Polylines(
            places=np.concatenate([np.zeros((0, 2)), *self._drawn]),
            first=np.cumsum([0, *(len(each) for each in self._drawn)]).astype(np.int64),
            closed=np.array([bool((each[0] == each[-1]).all()) for each in self._drawn], np.bool_),
        )

    def draw(self, corners: Floats, weight: int) -> None:
        """Draw what there is not yet of a frame."""
        ends = np.concatenate((corners, corners[:1]))
        new = [not self._has(ends[side], ends[side + 1]) for side in range(4)]
        self._start = np.concatenate((self._start, corners))
        self._way = np.concatenate((self._way, np.diff(ends, axis=0)))
        # From the first side after one that is there.
        first = 0 if all(new) else (new.index(False) + 1) % 4
        order = [(first + step) % 4 for step in range(4)]
        run: list[int] = []
        for side in [*order, None]:
            if side is not None and new[side]:
                run.append(side)
            elif run:
                self._drawn.append(_through(ends[[*run, run[-1] + 1]]))
                self.weight.append(weight)
                run = []

    def _has(self, start: Floats, stop: Floats) -> bool:
        """Whether there is a side already, nearer than two lines are drawn apart."""
        places = start + np.linspace(0.05, 0.95, 10)[:, None] * (stop - start)
        rest = places[:, None] - self._start
        square = np.maximum((self._way**2).sum(axis=1), 1e-9)
        share = np.clip((rest * self._way).sum(axis=2) / square, 0, 1)
        off = rest - share[..., None] * self._way
        cosine = self._way @ (stop - start) / np.sqrt(square) / np.hypot(*(stop - start))
        near = (np.hypot(off[..., 0], off[..., 1]) < APART_MM) & (np.abs(cosine) > _ALONG)
        return bool(near.any(axis=1).mean() > _DRAWN)


def _through(corners: Floats) -> Floats:
    """Places from corner to corner."""
    parts = [corners[:1]]
    for start, stop in pairwise(corners):
        many = max(int(np.hypot(*(stop - start)) / _STEP_MM), 2)
        parts.append(start + (np.arange(1, many + 1) / many)[:, None] * (stop - start))
    return np.concatenate(parts)


def _around(places: Floats, corners: Floats) -> Ints:
    """Places in the box of a frame, or so near."""
    low, high = corners.min(axis=0) - _READ_MM, corners.max(axis=0) + _READ_MM
    return np.flatnonzero(((places > low) & (places < high)).all(axis=1))


def _course(lines: Polylines) -> Floats:
    """Unit vectors along lines, over some way."""
    if not len(lines.closed):
        return lines.places
    many = max(round(_COURSE_MM / lines.usual_step_mm), 1)
    owner, at = lines.owner, np.arange(len(lines.places))
    after = np.minimum(at + many, lines.first[owner + 1] - 1)
    way = lines.places[after] - lines.places[np.maximum(at - many, lines.first[owner])]
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])


def _left_over(lines: Polylines, gone: Flags) -> Flags:
    """Places of short parts that are left of lines."""
    steps = np.hypot(*np.diff(lines.places, axis=0, append=lines.places[-1:]).T)
    steps[lines.first[1:] - 1] = 0
    owner = lines.owner
    run = np.cumsum((np.diff(gone, prepend=False)) | (np.diff(owner, prepend=-1) != 0)) - 1
    cut = np.bincount(owner, gone, len(lines.closed)) > 0
    return np.asarray(~gone & cut[owner] & (np.bincount(run, steps)[run] < _LEFT_MM))
