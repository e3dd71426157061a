"""Straight things come out straight: stretches that are straight within their noise become so.

A stretch runs from corner to corner, or is a part of such a way. Where all of its places lie near
the line that fits them best, nearer than they are known, and wander to both sides of it instead of
bending to one, what is left is no form but grain, pixels and the coarse map of the reading, and a
draughtsman takes a ruler. What is not straight is divided where it is furthest off, some times: a
window whose corners are round in the map has straight sides all the same.

Where much is straight by itself, more is: bricks and tiles fray the edges of a house, which is
ruled all the same, and a knuckle as far from straight is none. So what is taken for straight
depends on how much of the picture's line is so strictly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, corners
from worker.picture.outline.ruled_stretches import ruled_lines, with_corners, with_ends

#: Places of a straight line are found this near to it, in widths of the smoothing; and those that
#: only the reading knows, in pixels of its map.
STRAIGHT, STRAIGHT_READ = 0.7, 1.3
#: In a picture without any, so much line counts that is not straight; from the first share that is
#: on more is taken for it, and most from the second on.
_FEW_MM, _SOME, _MUCH = 3000.0, 0.1, 0.2
#: How often a stretch is divided.
_ROUNDS = 5


@dataclass(frozen=True, kw_only=True)
class _Rule:
    """What is taken for straight.

    Attributes:
        shortest_mm: Shorter stretches stay as they are,
        shortest_part_mm: and parts of longer ways, which a gentle curve has as well.
        aside: How far places may be from the line, in parts of the stretch's length.
        bow: How far the stretch may bow to one side, as the height of the parabola that fits it.
        nearer: No place is further from the line than so many times as near as it is known.
    """

    shortest_mm: float
    shortest_part_mm: float
    aside: float
    bow: float
    nearer: float

    def towards(self, other: _Rule, share: float) -> _Rule:
        """Between two."""
        both = (
            (name, getattr(self, name), getattr(other, name)) for name in self.__dataclass_fields__
        )
        return _Rule(**{name: one + share * (two - one) for name, one, two in both})


#: What one does not see, and what one does but takes for a fray of something ruled.
_STRICT = _Rule(shortest_mm=10.0, shortest_part_mm=20.0, aside=0.02, bow=0.006, nearer=1.0)
_RULED = _Rule(shortest_mm=6.0, shortest_part_mm=10.0, aside=0.06, bow=0.01, nearer=2.3)


def straightened(
    lines: Polylines, near_mm: float | Floats, grown: Flags | None = None
) -> Polylines:
    """Lines whose straight stretches are straight.

    Args:
        lines: Through points, in mm of the picture.
        near_mm: No place of a straight stretch is further from the line that fits it best; for
            each place, or for all. Places count by its fourth power less: what a coarse map has
            beside is beside all along, and no mean of many such places is better.
        grown: Lines of which nothing is ruled that frays, as those of a head; none if not given.
    """
    if not len(lines.closed):
        return lines
    near: Floats = np.broadcast_to(np.float64(near_mm), len(lines.places))
    begin, end, middle, way = _straight(lines, near, _STRICT)
    along, last = lines.along_mm, lines.first[1:] - 1
    whole = float((along[last] - along[lines.first[:-1]]).sum())
    share = float((along[end] - along[begin]).sum()) / (whole + _FEW_MM)
    ruled = min(max((share - _SOME) / (_MUCH - _SOME), 0.0), 1.0)
    if ruled:
        strict = np.zeros(len(lines.closed), bool) if grown is None else grown
        rule = _STRICT.towards(_RULED, ruled)
        found = [(begin, end, middle, way), _straight(lines, near, rule)]
        mine = [strict[lines.owner[found[0][0]]], ~strict[lines.owner[found[1][0]]]]
        begin, end, middle, way = (
            np.concatenate((one[mine[0]], two[mine[1]])) for one, two in zip(*found, strict=True)
        )
    stretches = with_corners(lines, ruled_lines(lines.places, begin, end, middle, way), near)
    if ruled:
        stretches = with_ends(lines, stretches, ruled)
    places = stretches.joined().written(lines.places)
    # The last place of a ring is its first one again.
    ring = np.flatnonzero(lines.closed)
    places[lines.first[ring + 1] - 1] = places[lines.first[ring]]
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def _straight(lines: Polylines, near: Floats, rule: _Rule) -> tuple[Ints, Ints, Floats, Floats]:
    """First and last places of straight stretches, and middles and directions of their lines."""
    begin, end = _stretches(lines)
    found: list[tuple[Ints, Ints, Floats, Floats]] = []
    along = lines.along_mm
    for shortest in (rule.shortest_mm, *(rule.shortest_part_mm,) * _ROUNDS):
        long = along[end] - along[begin] >= shortest
        begin, end = begin[long], end[long]
        if not len(begin):
            break
        middle, way, good, worst = _fit(lines, (begin, end), near, rule)
        found.append((begin[good], end[good], middle[good], way[good]))
        begin, at, end = begin[~good], worst[~good], end[~good]
        begin, end = np.concatenate((begin, at)), np.concatenate((at, end))
    if not found:
        return begin, end, np.zeros((0, 2)), np.zeros((0, 2))
    one, two, three, four = (np.concatenate(part) for part in zip(*found, strict=True))
    return one, two, three, four


def _fit(
    lines: Polylines, ends: tuple[Ints, Ints], near: Floats, rule: _Rule
) -> tuple[Floats, Floats, Flags, Ints]:
    """The line that fits each stretch, whether it is straight, and where it is furthest off."""
    begin, end = ends
    counts = end - begin + 1
    heads = np.cumsum(counts) - counts
    owner = np.repeat(np.arange(len(begin)), counts)
    at = np.arange(len(owner)) + (begin - heads)[owner]
    middle, way = _best_lines(lines.places[at], near[at] ** -4, heads, owner)
    rest = lines.places[at] - middle[owner]
    aside = rest[:, 1] * way[owner, 0] - rest[:, 0] * way[owner, 1]
    length = np.hypot(*(lines.places[end] - lines.places[begin]).T)
    most = np.minimum(rule.nearer * near[at], rule.aside * length[owner])
    over = np.abs(aside) / np.maximum(most, 1e-9)
    good = np.maximum.reduceat(over, heads) <= 1
    good &= _bow(aside, (rest * way[owner]).sum(axis=1), heads, length) <= rule.bow * length
    good &= length >= rule.shortest_mm
    # The first of the places that are furthest from the way between the ends.
    chord = lines.places[end] - lines.places[begin]
    out = lines.places[at] - lines.places[begin][owner]
    off = np.abs(out[:, 1] * chord[owner, 0] - out[:, 0] * chord[owner, 1])
    furthest = np.flatnonzero(off >= np.maximum.reduceat(off, heads)[owner])
    worst = at[furthest[np.searchsorted(owner[furthest], np.arange(len(begin)))]]
    return middle, way, good, np.clip(worst, begin + 1, np.maximum(end - 1, begin + 1))


def _bow(aside: Floats, along: Floats, heads: Ints, length: Floats) -> Floats:
    """The height of the parabola that fits what lies aside of each stretch's line."""
    counts = np.diff(np.append(heads, len(aside)))
    half = np.maximum(length / 2, 1e-9)
    square = (along / np.repeat(half, counts)) ** 2
    square -= np.repeat(np.add.reduceat(square, heads) / counts, counts)
    rise = np.add.reduceat(square * aside, heads)
    return np.abs(rise / np.maximum(np.add.reduceat(square * square, heads), 1e-9))


def _stretches(lines: Polylines) -> tuple[Ints, Ints]:
    """First and last places of stretches between corners and ends."""
    knot = corners(lines)
    knot[lines.first[:-1]] = knot[lines.first[1:] - 1] = True
    at, owner = np.flatnonzero(knot), lines.owner
    same = owner[at[:-1]] == owner[at[1:]]
    return at[:-1][same], at[1:][same]


def _best_lines(places: Floats, weight: Floats, heads: Ints, owner: Ints) -> tuple[Floats, Floats]:
    """Middle and direction of the line that fits each stretch best (total least squares)."""
    whole = np.add.reduceat(weight, heads)[:, None]
    middle = np.add.reduceat(weight[:, None] * places, heads, axis=0) / whole
    rest = places - middle[owner]
    xx, yy, xy = (
        np.add.reduceat(weight * one * two, heads)
        for one, two in (
            (rest[:, 0], rest[:, 0]),
            (rest[:, 1], rest[:, 1]),
            (rest[:, 0], rest[:, 1]),
        )
    )
    angle = np.arctan2(2 * xy, xx - yy) / 2
    return middle, np.stack((np.cos(angle), np.sin(angle)), axis=1)


def _with_ends(lines: Polylines, ends: tuple[Ints, Ints], middle: Floats, way: Floats) -> Floats:
    """Places, of which ends of straight stretches lie on their lines, between two if on both."""
    one = np.arange(len(lines.places))
    # The last place of a ring is its first one.
    ring = np.flatnonzero(lines.closed)
    one[lines.first[ring + 1] - 1] = lines.first[ring]
    total, count = np.zeros_like(lines.places), np.zeros(len(one))
    for end in ends:
        along = ((lines.places[end] - middle) * way).sum(axis=1)
        np.add.at(total, one[end], middle + along[:, None] * way)
        np.add.at(count, one[end], 1.0)
    mean = np.where(count[:, None] > 0, total / np.maximum(count, 1.0)[:, None], lines.places)
    return np.asarray(mean[one])
