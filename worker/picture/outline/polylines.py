"""Polylines: find their corners, smooth the wobble between them, give tangents."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Self

import numpy as np
import numpy.typing as npt

#: A corner bends by more than this between the ways to and from points so many steps away, and
#: further away as well; and by so much more than the line does at those points.
_CORNER_DEG, _CORNER_REACH, _FAR_REACH, _SHARPER_DEG = 36.0, 5, 10, 24.0
#: Points to either side that give a direction its smoothness.
_DIRECTION_REACH = 3
#: Rounds of the mean along a line; each has variance 1 in steps.
_STEADY_ROUNDS = 4
#: No place is moved further, in widths of the smoothing: what is smaller than that is wobble of
#: what the photo resolves, the rest is the scene's.
MOST_MOVED = 0.3
#: Places that are worked on at once, about; by each thread.
TOGETHER = 25_000

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Polylines:
    """Lines through points, in mm of the picture.

    Attributes:
        places: (places, 2).
        first: (lines + 1,): line i has the places from `first[i]` up to `first[i + 1]`.
        closed: (lines,) whether its last place is its first one again.
    """

    places: Floats
    first: Ints
    closed: Flags

    @classmethod
    def of(cls, lines: Sequence[Floats]) -> Self:
        """Lines through places, (places, 2) each; closed where the last one is the first."""
        return cls(
            places=np.concatenate([np.zeros((0, 2)), *lines]),
            first=np.cumsum([0, *(len(line) for line in lines)]).astype(np.int64),
            closed=np.array([bool((line[0] == line[-1]).all()) for line in lines], np.bool_),
        )

    def taken(self, which: Flags) -> Polylines:
        """Some of them."""
        return Polylines(
            places=self.places[which[self.owner]],
            first=np.concatenate(([0], np.cumsum(np.diff(self.first)[which]))),
            closed=self.closed[which],
        )

    @cached_property
    def owner(self) -> Ints:
        """The line of each place."""
        return np.repeat(np.arange(len(self.closed)), np.diff(self.first))

    @property
    def lengths_mm(self) -> npt.NDArray[np.float32]:
        """The length of each line."""
        along = self.along_mm
        if not len(along):
            return np.zeros(0, np.float32)
        return (along[self.first[1:] - 1] - along[self.first[:-1]]).astype(np.float32)

    @property
    def usual_step_mm(self) -> float:
        """The mean way from place to place."""
        return float(self.along_mm[-1] / max(len(self.places) - len(self.closed), 1))

    @cached_property
    def along_mm(self) -> Floats:
        """Arc length to each place from the first of all; steps between lines count nothing."""
        steps = np.hypot(*np.diff(self.places, axis=0, prepend=self.places[:1]).T)
        steps[self.first[:-1]] = 0.0
        return np.asarray(np.cumsum(steps))


def courses(lines: Polylines, over_mm: float) -> Floats:
    """Unit vectors along lines at each place, over so many mm to either side; (places, 2)."""
    if not len(lines.places):
        return lines.places
    many = max(round(over_mm / max(lines.usual_step_mm, 1e-9)), 1)
    owner, at = lines.owner, np.arange(len(lines.places))
    after = np.minimum(at + many, lines.first[owner + 1] - 1)
    before = np.maximum(at - many, lines.first[owner])
    way = lines.places.take(after, axis=0) - lines.places.take(before, axis=0)
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-9)[:, None])


def dots(ones: Floats, others: Floats) -> Floats:
    """The dot product of each vector with its like; (vectors, 2) each."""
    return np.asarray(np.einsum("ij,ij->i", ones, others))


def joined_lines(*parts: Polylines) -> Polylines:
    """The lines of all of these."""
    counts = np.concatenate([np.diff(part.first) for part in parts])
    return Polylines(
        places=np.concatenate([part.places for part in parts]),
        first=np.concatenate(([0], np.cumsum(counts))),
        closed=np.concatenate([part.closed for part in parts]),
    )


def in_parts(lines: Polylines, together: int = TOGETHER) -> Iterator[tuple[int, slice, Polylines]]:
    """Some lines at a time, so that memory does not grow.

    Args:
        lines: Any number.
        together: Places of each part, about.

    Returns:
        For each part the number of its first line, its places, and the part.
    """
    first = lines.first
    borders = np.flatnonzero(np.diff(first // together)).tolist()
    for start, end in pairwise((0, *borders, len(lines.closed))):
        if end > start:
            places = slice(first[start], first[end])
            part = first[start : end + 1] - first[start]
            closed = lines.closed[start:end]
            yield (
                start,
                places,
                Polylines(places=lines.places[places], first=part, closed=closed),
            )


def corners(lines: Polylines) -> Flags:
    """Marks corners: places where a line bends sharply, and more than anywhere near.

    A wobble bends as much at a small scale but not at a large one; a small circle bends as
    much everywhere.
    """
    turn, far = _turns(lines, _CORNER_REACH), _turns(lines, _FAR_REACH)
    before, after = _neighbours(lines, _CORNER_REACH)
    sharper = np.abs(turn) - np.sign(turn) * (turn[before] + turn[after]) / 2.0
    far, turn = far * np.sign(turn), np.abs(turn)
    sharp = np.minimum(turn, far) > math.radians(_CORNER_DEG)
    sharp &= sharper > math.radians(_SHARPER_DEG)
    # Few are sharp at all, and these alone are held against what is near.
    at = np.flatnonzero(sharp)
    for reach in range(1, _CORNER_REACH):
        one, two = _neighbours(lines, reach, at)
        sharp[at] &= (turn[at] >= turn[one]) & (turn[at] >= turn[two])
    return np.asarray(sharp)


def smoothed_polylines(lines: Polylines, corner: Flags, most_mm: float) -> Polylines:
    """Each place averaged with its neighbours on the line; corners and ends stay.

    Finding an edge smooths across it; this smooths along it, about as far. No place moves by
    more than `most_mm`.
    """
    fixed = corner.copy()
    fixed[lines.first[:-1]] |= ~lines.closed
    fixed[lines.first[1:] - 1] |= ~lines.closed
    (one, two), (far, further) = (_neighbours(lines, reach) for reach in (1, 2))
    # A place beside one that stays is drawn to nothing beyond it.
    far, further = np.where(fixed[one], one, far), np.where(fixed[two], two, further)
    places = lines.places
    for _ in range(_STEADY_ROUNDS):
        around = 4.0 * (places.take(one, axis=0) + places.take(two, axis=0))
        around += places.take(far, axis=0)
        around += places.take(further, axis=0)
        places = np.where(fixed[:, None], places, (6.0 * places + around) / 16.0)
    moved = places - lines.places
    far = np.hypot(moved[:, 0], moved[:, 1])[:, None]
    moved *= most_mm / np.maximum(far, most_mm)
    return Polylines(places=lines.places + moved, first=lines.first, closed=lines.closed)


def tangents(lines: Polylines, corner: Flags) -> tuple[Floats, Floats]:
    """Unit tangents before and after each place, (places, 2) each; they differ at corners."""
    come, go = _ways(lines, _DIRECTION_REACH)
    arrive = np.where(corner[:, None], come, come + go)
    leave = np.where(corner[:, None], go, come + go)
    return _unit(arrive), _unit(leave)


def _ways(lines: Polylines, reach: int) -> tuple[Floats, Floats]:
    """The ways to each place from so many steps before it, and from it to as many after."""
    before, after = _neighbours(lines, reach)
    come, go = (lines.places.take(near, axis=0) for near in (before, after))
    return lines.places - come, go - lines.places


def _turns(lines: Polylines, reach: int) -> Floats:
    """The angle between these ways at each place, with its sign."""
    come, go = _ways(lines, reach)
    (come_x, come_y), (go_x, go_y) = come.T, go.T
    # Zero has no sign then: at an end, where one of the ways is none, there is no turn.
    along = come_x * go_x + come_y * go_y + 0.0
    return np.asarray(np.arctan2(come_x * go_y - come_y * go_x, along))


def _neighbours(lines: Polylines, reach: int, at: Ints | None = None) -> tuple[Ints, Ints]:
    """Places so many steps before and after each, round rings, and no further than ends."""
    at = np.arange(len(lines.places)) if at is None else at
    owner = lines.owner[at]
    begin, end = lines.first.take(owner), lines.first.take(owner + 1) - 1
    before, after = np.maximum(at - reach, begin), np.minimum(at + reach, end)
    # A remainder takes as long as all else, and most lines are no rings.
    rings = np.flatnonzero(lines.closed[owner])
    start, size = begin[rings], np.maximum(end[rings] - begin[rings], 1)
    before[rings] = start + (at[rings] - reach - start) % size
    after[rings] = start + (at[rings] + reach - start) % size
    return before, after


def _unit(vectors: Floats) -> Floats:
    length = np.hypot(vectors[:, 0], vectors[:, 1])[:, None]
    return np.asarray(vectors / np.maximum(length, 1e-9))
