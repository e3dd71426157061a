"""Smooth curves through lines of points: few cubic Béziers, near every point.

Curves begin at corners and at even distances, take their directions from the line itself and
the length of their handles by least squares (Schneider 1990), all at once. Where a point is
further from its curve than allowed, the curve is divided there; and so on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

#: A curve begins at least this often: longer ones bend more than one cubic can.
LONGEST_MM = 40.0
#: No point found is further from its curve.
TOLERANCE_MM = 0.15
#: A corner bends by more than this between the ways to and from points this far away.
CORNER_DEG = 40.0
_CORNER_REACH = 5
#: Points to either side that give a direction its smoothness.
_DIRECTION_REACH = 3
#: Handles, in parts of the chord, when least squares gives nothing sensible.
_THIRD = 1.0 / 3.0
_ROUNDS = 24

_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Lines:
    """Lines of points in mm.

    Attributes:
        places: (places, 2).
        first: (lines + 1,).
        closed: (lines,).
    """

    places: _Floats
    first: _Ints
    closed: _Flags

    @property
    def owner(self) -> _Ints:
        """The line of each place."""
        return np.repeat(np.arange(len(self.closed)), np.diff(self.first))


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Fitted curves: (curves, 4, 2) in mm, and the line of each."""

    points: _Floats
    owner: _Ints


def fitted(lines: Lines, tolerance_mm: float = TOLERANCE_MM) -> Curves:
    """Curves within `tolerance_mm` of all places, in the order of the lines."""
    if not len(lines.closed):
        return Curves(points=np.zeros((0, 4, 2)), owner=np.zeros(0, np.int64))
    places, first, owner = lines.places, lines.first, lines.owner
    steps = np.hypot(*np.diff(places, axis=0, prepend=places[:1]).T)
    steps[first[:-1]] = 0.0
    along = np.cumsum(steps)
    corner = _corners(lines)
    knot = corner.copy()
    knot[first[:-1]] = knot[first[1:] - 1] = True
    begins = along[first[owner]]
    total = along[first[1:] - 1] - along[first[:-1]]
    each = total / np.maximum(np.ceil(total / LONGEST_MM), 1.0)
    part = np.floor((along - begins) / np.maximum(each[owner], 1e-9) + 1e-9)
    knot[1:] |= (part[1:] > part[:-1]) & (owner[1:] == owner[:-1])
    direction = _directions(lines, corner)
    done: list[tuple[_Ints, _Floats]] = []
    starts, ends = _spans(knot, owner)
    for _ in range(_ROUNDS):
        curves, worst, where = _fit(places, along, direction, starts, ends)
        good = (worst <= tolerance_mm) | (ends - starts <= 1)
        done.append((starts[good], curves[good]))
        bad = ~good
        if not bad.any():
            break
        middle = where[bad]
        starts = np.stack((starts[bad], middle), axis=1).ravel()
        ends = np.stack((middle, ends[bad]), axis=1).ravel()
    began = np.concatenate([start for start, _ in done])
    order = np.argsort(began, kind="stable")
    points = np.concatenate([curve for _, curve in done])[order]
    return Curves(points=points, owner=owner[began[order]])


def _spans(knot: _Flags, owner: _Ints) -> tuple[_Ints, _Ints]:
    at = np.flatnonzero(knot)
    same = owner[at[:-1]] == owner[at[1:]]
    return at[:-1][same], at[1:][same]


def _neighbour(lines: Lines, reach: int) -> tuple[_Ints, _Ints]:
    """Places so many steps before and after each, round rings, and no further than ends."""
    owner = lines.owner
    begin, end = lines.first[owner], lines.first[owner + 1] - 1
    at = np.arange(len(owner))
    size = np.maximum(end - begin, 1)
    before, after = at - reach, at + reach
    ring = lines.closed[owner]
    before = np.where(ring, begin + (before - begin) % size, np.maximum(before, begin))
    after = np.where(ring, begin + (after - begin) % size, np.minimum(after, end))
    return before, after


def _corners(lines: Lines) -> _Flags:
    """Where a line bends sharply, more than anywhere near."""
    before, after = _neighbour(lines, _CORNER_REACH)
    come = lines.places - lines.places[before]
    go = lines.places[after] - lines.places
    cross = come[:, 0] * go[:, 1] - come[:, 1] * go[:, 0]
    turn = np.abs(np.arctan2(cross, (come * go).sum(axis=1)))
    sharp = turn > math.radians(CORNER_DEG)
    for reach in range(1, _CORNER_REACH):
        one, two = _neighbour(lines, reach)
        sharp &= (turn >= turn[one]) & (turn >= turn[two])
    return sharp


def _directions(lines: Lines, corner: _Flags) -> tuple[_Floats, _Floats]:
    """Unit directions in which each place is come to and left; they differ at corners."""
    before, after = _neighbour(lines, _DIRECTION_REACH)
    come = lines.places - lines.places[before]
    go = lines.places[after] - lines.places
    through = come + go
    arrive = np.where(corner[:, None], come, through)
    leave = np.where(corner[:, None], go, through)
    return _unit(arrive), _unit(leave)


def _unit(vectors: _Floats) -> _Floats:
    length = np.hypot(vectors[:, 0], vectors[:, 1])[:, None]
    return np.asarray(vectors / np.maximum(length, 1e-9))


def _fit(
    places: _Floats,
    along: _Floats,
    direction: tuple[_Floats, _Floats],
    starts: _Ints,
    ends: _Ints,
) -> tuple[_Floats, _Floats, _Ints]:
    """One curve for each span; the largest distance from it, and at which place."""
    counts = ends - starts + 1
    heads = np.concatenate(([0], np.cumsum(counts)[:-1]))
    span = np.repeat(np.arange(len(starts)), counts)
    at = np.arange(len(span)) - heads[span] + starts[span]
    length = np.maximum(along[ends] - along[starts], 1e-9)
    t = (along[at] - along[starts][span]) / length[span]
    s = 1.0 - t
    b0, b1, b2, b3 = s * s * s, 3 * t * s * s, 3 * t * t * s, t * t * t
    p0, p3 = places[starts], places[ends]
    leave, arrive = direction[1][starts], -direction[0][ends]
    rest = places[at] - (b0 + b1)[:, None] * p0[span] - (b2 + b3)[:, None] * p3[span]
    ux, uy = leave[span].T
    vx, vy = arrive[span].T
    sums = np.add.reduceat(
        np.stack(
            (
                b1 * b1,
                b1 * b2 * (ux * vx + uy * vy),
                b2 * b2,
                b1 * (ux * rest[:, 0] + uy * rest[:, 1]),
                b2 * (vx * rest[:, 0] + vy * rest[:, 1]),
            )
        ),
        heads,
        axis=1,
    )
    a, b, c, d, e = sums
    whole = a * c - b * b
    sound = whole > 1e-6 * a * c
    whole = np.where(sound, whole, 1.0)
    one, two = (c * d - b * e) / whole, (a * e - b * d) / whole
    third = length * _THIRD
    sound &= (one > 0.1 * third) & (two > 0.1 * third) & (one < 3 * third) & (two < 3 * third)
    one, two = np.where(sound, one, third), np.where(sound, two, third)
    p1, p2 = p0 + one[:, None] * leave, p3 + two[:, None] * arrive
    x = b0 * p0[span, 0] + b1 * p1[span, 0] + b2 * p2[span, 0] + b3 * p3[span, 0]
    y = b0 * p0[span, 1] + b1 * p1[span, 1] + b2 * p2[span, 1] + b3 * p3[span, 1]
    off = (x - places[at, 0]) ** 2 + (y - places[at, 1]) ** 2
    worst = np.sqrt(np.maximum.reduceat(off, heads))
    # Divided where it is worst, but never at an end.
    inner = np.where((t > 0) & (t < 1), off, -1.0)
    rank = np.lexsort((-inner, span))
    where = at[rank[heads]]
    where = np.clip(where, starts + 1, np.maximum(ends - 1, starts + 1))
    return np.stack((p0, p1, p2, p3), axis=1), worst, where
