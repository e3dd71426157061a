"""Straight things come out straight: stretches that are straight within their noise become so.

A stretch runs from corner to corner, or is a part of such a way. Where all of its places lie near
the line that fits them best, nearer than they are known, and wander to both sides of it instead of
bending to one, what is left is no form but grain, pixels and the coarse map of the reading, and a
draughtsman takes a ruler. What is not straight is divided where it is furthest off, some times: a
window whose corners are round in the map has straight sides all the same.

Where much is straight by itself, more is: bricks and tiles fray the edges of a house, which is
ruled all the same, and a knuckle as far from straight is none. So what is taken for straight
depends on how much line is so strictly, in the whole picture, or around a place if it is upright
or level: petals and whiskers are straight too, but fan out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import box_mean
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, corners
from worker.picture.outline.ruled_stretches import ruled_lines, with_corners, with_ends

#: Places of a straight line are found this near to it, in widths of the smoothing; and those that
#: only the reading knows, in pixels of its map.
STRAIGHT, STRAIGHT_READ = 0.7, 1.3
#: More is taken for straight where more than this part of the picture's line is, with so many mm
#: besides that are not;
_MUCH, _FEW_MM = 0.155, 1500.0
#: and where this part is, upright or level up to this sine, of what is in squares of such a size
#: with so many more to either side, and so many mm in each that are not.
_MUCH_AROUND, _LEVEL_SINE, _CELL_MM, _AROUND_CELLS, _FEW_AROUND_MM = 0.1, 0.1, 20.0, 2, 12.0
#: How often a stretch is divided, and how often places are weighed anew by how far aside they are.
_ROUNDS, _REWEIGHED = 7, 2

#: First and last places of stretches, and middles and directions of their lines.
_Found = tuple[Ints, Ints, Floats, Floats]


@dataclass(frozen=True, kw_only=True)
class _Rule:
    """What is taken for straight.

    Attributes:
        shortest_mm: Shorter stretches stay as they are,
        shortest_part_mm: and parts of longer ways, which a gentle curve has as well.
        aside: How far places may be from the line, in parts of the stretch's length.
        bow: How far the stretch may bow to one side, as the height of the parabola that fits it.
        nearer: No place is further from the line than so many times as near as it is known,
        frayed: but for this share of them,
        furthest: which are no further than so many times.
    """

    shortest_mm: float
    shortest_part_mm: float
    aside: float
    bow: float
    nearer: float
    frayed: float
    furthest: float


#: What one does not see, and what one does but takes for a fray of something ruled.
_STRICT = _Rule(
    shortest_mm=10.0,
    shortest_part_mm=20.0,
    aside=0.02,
    bow=0.006,
    nearer=1.0,
    frayed=0.0,
    furthest=1.0,
)
_RULED = _Rule(
    shortest_mm=6.0,
    shortest_part_mm=10.0,
    aside=0.06,
    bow=0.01,
    nearer=1.6,
    frayed=0.2,
    furthest=3.0,
)
#: And what has the direction of ruled lines around, within this sine and so many mm, of which
#: there are so many mm.
_ALIKE = _Rule(
    shortest_mm=5.0,
    shortest_part_mm=5.0,
    aside=0.15,
    bow=0.04,
    nearer=2.0,
    frayed=0.25,
    furthest=3.0,
)
_ALIKE_SINE, _AROUND_MM, _ALIKE_MM = 0.05, 80.0, 40.0


def straightened(
    lines: Polylines, near_mm: float | Floats, grown: Flags | None = None
) -> Polylines:
    """Lines whose straight stretches are straight.

    Args:
        lines: Through points, in mm of the picture.
        near_mm: No place of a straight stretch is further from the line that fits it best; for
            each place, or for all. Places count by its fourth power less: what a coarse map has
            beside is beside all along, and no mean of many such places is better.
        grown: Lines of which nothing is ruled that frays, as those of a figure; none if not given.
    """
    if not len(lines.closed):
        return lines
    near: Floats = np.broadcast_to(np.float64(near_mm), len(lines.places))
    found = _straight(lines, near, _STRICT, _stretches(lines, corners(lines)))
    built = _built(lines, found, grown)
    if built.any():
        # Whatever frays has corners of its own.
        whole = _ends_of(_stretches(lines, _apart(lines)), lines, built)
        found = _joined(_of(found, lines, ~built), _straight(lines, near, _RULED, whole))
        rest = _ends_of(_between(lines, found), lines, built)
        found = _joined(found, _straight(lines, near, _ALIKE, rest, found))
    stretches = with_corners(lines, ruled_lines(lines.places, *found), near)
    stretches = with_ends(lines, stretches, built)
    places = stretches.joined().written(lines.places)
    # The last place of a ring is its first one again.
    ring = np.flatnonzero(lines.closed)
    places[lines.first[ring + 1] - 1] = places[lines.first[ring]]
    return Polylines(places=places, first=lines.first, closed=lines.closed)


def _built(lines: Polylines, found: _Found, grown: Flags | None) -> Flags:
    """Lines that lie where much is straight by itself, and are not grown."""
    mine = np.ones(len(lines.closed), np.bool_) if grown is None else ~grown
    steps = np.diff(lines.along_mm, append=0.0)
    steps[lines.first[1:] - 1] = 0.0
    steps *= mine[lines.owner]
    straight = steps * _within(lines, found, np.ones(len(found[0]), np.bool_))
    if straight.sum() > _MUCH * (steps.sum() + _FEW_MM):
        return mine
    level = np.abs(found[3]).min(axis=1) < _LEVEL_SINE
    row, column = (np.maximum(lines.places[:, axis] / _CELL_MM, 0).astype(int) for axis in (1, 0))
    size = (int(row.max()) + 1, int(column.max()) + 1)
    at = row * size[1] + column

    def around(values: Floats) -> npt.NDArray[np.float32]:
        sums = np.bincount(at, values, size[0] * size[1]).astype(np.float32).reshape(size)
        return box_mean(box_mean(sums, _AROUND_CELLS), _AROUND_CELLS)

    whole = around(steps) + np.float32(_FEW_AROUND_MM)
    much = around(steps * _within(lines, found, level)) > np.float32(_MUCH_AROUND) * whole
    share = np.add.reduceat(much.ravel()[at].astype(np.float64), lines.first[:-1])
    return np.asarray(mine & (share > np.diff(lines.first) / 2))


def _within(lines: Polylines, found: _Found, which: Flags) -> Flags:
    """Places from which some of the stretches go on."""
    change = np.zeros(len(lines.places) + 1, np.int64)
    np.add.at(change, found[0][which], 1)
    np.add.at(change, found[1][which], -1)
    return np.asarray(np.cumsum(change)[:-1] > 0)


def _of(found: _Found, lines: Polylines, which: Flags) -> _Found:
    """Those of some lines."""
    mine = which[lines.owner[found[0]]]
    return found[0][mine], found[1][mine], found[2][mine], found[3][mine]


def _ends_of(ends: tuple[Ints, Ints], lines: Polylines, which: Flags) -> tuple[Ints, Ints]:
    """Those of some lines."""
    mine = which[lines.owner[ends[0]]]
    return ends[0][mine], ends[1][mine]


def _joined(one: _Found, two: _Found) -> _Found:
    begin, end = np.concatenate((one[0], two[0])), np.concatenate((one[1], two[1]))
    return begin, end, np.concatenate((one[2], two[2])), np.concatenate((one[3], two[3]))


def _between(lines: Polylines, found: _Found) -> tuple[Ints, Ints]:
    """First and last places of what is between stretches."""
    first, last = lines.first[:-1], lines.first[1:] - 1
    begin = np.sort(np.concatenate((first, found[1])))
    end = np.sort(np.concatenate((found[0], last)))
    return begin, end


def _straight(
    lines: Polylines,
    near: Floats,
    rule: _Rule,
    stretches: tuple[Ints, Ints],
    like: _Found | None = None,
) -> _Found:
    """First and last places of straight stretches, and middles and directions of their lines.

    Args:
        lines: All of them.
        near: How near each place is known.
        rule: What is straight.
        stretches: First and last places of what is divided.
        like: Stretches of which some nearby have the same direction, if given.
    """
    begin, end = stretches
    found: list[_Found] = []
    along = lines.along_mm
    for shortest in (rule.shortest_mm, *(rule.shortest_part_mm,) * _ROUNDS):
        long = along[end] - along[begin] >= shortest
        begin, end = begin[long], end[long]
        if not len(begin):
            break
        middle, way, good, worst = _fit(lines, (begin, end), near, rule)
        if like is not None:
            good &= _alike(lines, like, middle, way)
        found.append((begin[good], end[good], middle[good], way[good]))
        begin, at, end = begin[~good], worst[~good], end[~good]
        begin, end = np.concatenate((begin, at)), np.concatenate((at, end))
    if not found:
        return begin, end, np.zeros((0, 2)), np.zeros((0, 2))
    one, two, three, four = (np.concatenate(part) for part in zip(*found, strict=True))
    return one, two, three, four


def _alike(lines: Polylines, like: _Found, middle: Floats, way: Floats) -> Flags:
    """Which lines have the direction of others around."""
    length = np.hypot(*(lines.places[like[1]] - lines.places[like[0]]).T)
    sine = way[:, :1] * like[3][:, 1] - way[:, 1:] * like[3][:, 0]
    far = np.hypot(middle[:, :1] - like[2][:, 0], middle[:, 1:] - like[2][:, 1])
    same = (np.abs(sine) < _ALIKE_SINE) & (far < _AROUND_MM)
    return np.asarray(same @ length > _ALIKE_MM)


def _fit(
    lines: Polylines, ends: tuple[Ints, Ints], near: Floats, rule: _Rule
) -> tuple[Floats, Floats, Flags, Ints]:
    """The line that fits each stretch, whether it is straight, and where it is furthest off."""
    begin, end = ends
    counts = end - begin + 1
    heads = np.cumsum(counts) - counts
    owner = np.repeat(np.arange(len(begin)), counts)
    at = np.arange(len(owner)) + (begin - heads)[owner]
    places, weight = lines.places[at], near[at] ** -4
    middle, way = _best_lines(places, weight, heads, owner)
    for _ in range(_REWEIGHED if rule.frayed else 0):
        # What is far aside counts less (Cauchy's weights).
        weight = near[at] ** -4 / (1 + (_aside(places, middle[owner], way[owner]) / near[at]) ** 2)
        middle, way = _best_lines(places, weight, heads, owner)
    rest, aside = places - middle[owner], _aside(places, middle[owner], way[owner])
    length = np.hypot(*(lines.places[end] - lines.places[begin]).T)
    most = np.minimum(rule.nearer * near[at], rule.aside * length[owner])
    over = np.abs(aside) / np.maximum(most, 1e-9)
    good = np.maximum.reduceat(over, heads) <= rule.furthest / rule.nearer
    good &= np.add.reduceat(over > 1, heads) <= rule.frayed * counts
    good &= _bow(aside, (rest * way[owner]).sum(axis=1), heads, length) <= rule.bow * length
    good &= length >= rule.shortest_mm
    # The first of the places that are furthest from the way between the ends.
    chord = lines.places[end] - lines.places[begin]
    out = lines.places[at] - lines.places[begin][owner]
    off = np.abs(out[:, 1] * chord[owner, 0] - out[:, 0] * chord[owner, 1])
    furthest = np.flatnonzero(off >= np.maximum.reduceat(off, heads)[owner])
    worst = at[furthest[np.searchsorted(owner[furthest], np.arange(len(begin)))]]
    return middle, way, good, np.clip(worst, begin + 1, np.maximum(end - 1, begin + 1))


def _aside(places: Floats, middle: Floats, way: Floats) -> Floats:
    """How far places are from lines, with the side."""
    rest = places - middle
    return np.asarray(rest[:, 1] * way[:, 0] - rest[:, 0] * way[:, 1])


def _bow(aside: Floats, along: Floats, heads: Ints, length: Floats) -> Floats:
    """The height of the parabola that fits what lies aside of each stretch's line."""
    counts = np.diff(np.append(heads, len(aside)))
    half = np.maximum(length / 2, 1e-9)
    square = (along / np.repeat(half, counts)) ** 2
    square -= np.repeat(np.add.reduceat(square, heads) / counts, counts)
    rise = np.add.reduceat(square * aside, heads)
    return np.abs(rise / np.maximum(np.add.reduceat(square * square, heads), 1e-9))


def _apart(lines: Polylines) -> Flags:
    """Marks the place of each ring that is furthest from its first one."""
    far = np.hypot(*(lines.places - lines.places[lines.first[lines.owner]]).T)
    furthest = np.maximum.reduceat(far, lines.first[:-1])
    return np.asarray(lines.closed[lines.owner] & (far >= furthest[lines.owner]))


def _stretches(lines: Polylines, corner: Flags) -> tuple[Ints, Ints]:
    """First and last places of stretches between corners and ends."""
    knot = corner.copy()
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
