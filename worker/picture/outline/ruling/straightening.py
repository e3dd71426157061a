"""Straight things come out straight: stretches that are straight within their noise become so.

A stretch runs from corner to corner, or is a part of such a way. Where all of its places lie near
the line that fits them best, nearer than they are known, what is left is no form but grain, pixels
and the coarse map of the reading, and a draughtsman takes a ruler. What is not straight is divided
where it is furthest off, some times: a window whose corners are round in the map has straight
sides all the same. Of what is built, more is taken for straight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, corners
from worker.picture.outline.ruling.bridging import bridged
from worker.picture.outline.ruling.built import built_lines
from worker.picture.outline.ruling.directions import alike, turned
from worker.picture.outline.ruling.dividing import divided, furthest_apart, straight_stretches
from worker.picture.outline.ruling.fitting import Rule, Stretches, fitted, joined
from worker.picture.outline.ruling.following import followed, following, laid_on
from worker.picture.outline.ruling.meeting import Ways, ruled_ways, with_corners, with_ends
from worker.picture.outline.ruling.segments import PictureEdges, SeenEdges, segments_of
from worker.picture.outline.ruling.uprights import Uprights, uprights_of
from worker.picture.outline.ruling.whole_sides import with_whole_sides

#: Places of a straight line are found this near to it, in widths of the smoothing; and those that
#: only the reading knows, in pixels of its map.
STRAIGHT, STRAIGHT_READ = 0.7, 1.3
#: What is known less well than this, and not so many times as long as it is known near to a line,
#: may be a curve, unless it is level or upright, by this sine, or has the direction of others.
_SEEN_MM, _SURELY, _LEVEL_SINE = 0.5, 115.0, 0.04
#: Of what is built so many times are enough if it hardly frays, and is nearly level or upright or
#: all is built.
_BUILT_SURELY, _NEARLY_LEVEL_SINE = 18.0, 0.12
#: A stretch that is longer than this is no fray of anything.
_PLAINLY_MM = 10.0
#: Shorter edges of the picture are followed by no line: they are a corner's rounding.
_FOLLOWED_MM = 3.5

#: What one does not see, and what one does but takes for a fray of something ruled.
_STRICT = Rule(
    shortest_mm=10.0,
    shortest_part_mm=20.0,
    aside=0.02,
    bow=0.006,
    nearer=1.0,
    frayed=0.0,
    furthest=1.0,
)
_RULED = Rule(
    shortest_mm=6.0,
    shortest_part_mm=10.0,
    aside=0.06,
    bow=0.01,
    nearer=1.6,
    frayed=0.2,
    furthest=3.0,
)
_SOUND = Rule(
    shortest_mm=6.0,
    shortest_part_mm=6.0,
    aside=0.04,
    bow=0.01,
    nearer=1.2,
    frayed=0.05,
    furthest=1.5,
)
#: And what has the direction of ruled lines around.
_ALIKE = Rule(
    shortest_mm=5.0,
    shortest_part_mm=5.0,
    aside=0.15,
    bow=0.04,
    nearer=2.0,
    frayed=0.25,
    furthest=3.0,
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Ruled:
    """Lines whose straight stretches are straight.

    Attributes:
        lines: In mm of the picture.
        built: Which are of what is built.
        straight: Places of them on straight stretches that are plainly so.
        seen: Edges of the picture around these, if they are known.
        ways: The straight stretches.
        uprights: How what stands leans, where all is built and most of it agrees.
    """

    lines: Polylines
    built: Flags
    straight: Flags
    seen: SeenEdges | None = None
    ways: Ways | None = None
    uprights: Uprights | None = None


def straightened(
    lines: Polylines, near_mm: float | Floats, grown: Flags | None = None
) -> Polylines:
    """Lines whose straight stretches are straight, as `ruled` has them."""
    return ruled(lines, near_mm, grown).lines


def ruled(
    lines: Polylines,
    near_mm: float | Floats,
    grown: Flags | None = None,
    edges: PictureEdges | None = None,
) -> Ruled:
    """Lines whose straight stretches are straight.

    Args:
        lines: Through points, in mm of the picture.
        near_mm: No place of a straight stretch is further from the line that fits it best; for
            each place, or for all. Places count by its fourth power less: what a coarse map has
            beside is beside all along, and no mean of many such places is better.
        grown: Lines of which nothing is ruled that frays, as those of a figure; none if not given.
        edges: Of the picture, if they are known.
    """
    if not len(lines.closed):
        return Ruled(lines=lines, built=lines.closed, straight=lines.closed)
    near: Floats = np.broadcast_to(np.float64(near_mm), len(lines.places))
    found = _straight(lines, near)
    built, seen, uprights = built_lines(lines, found, grown), None, None
    if built.any():
        found = _ruled(lines, near, found, built)
        if edges is not None:
            around = edges.beside(lines.places[built[lines.owner]])
            seen = SeenEdges(edges=around, segments=segments_of(around))
    found = found.taken(_certain(lines, near, found, built))
    # In a wood or behind people what runs beside an edge for a while is no wall.
    if seen is not None and built.all():
        segments = seen.segments.longer(_FOLLOWED_MM)
        on = followed(lines, near, segments, built[lines.owner])
        uprights = uprights_of(segments, seen.edges.scale)
        if uprights is not None:
            found = with_whole_sides(lines, near, found, uprights)
        found = laid_on(lines, found, segments, on)
        on[_within(lines, found)] = -1
        found = joined([found, following(lines, segments, on)])
    if built.any():
        found = bridged(lines, found, near)
    ways = ruled_ways(lines.places, found)
    plainly = ways.lengths_mm(lines) > _PLAINLY_MM
    ways = with_ends(lines, with_corners(lines, ways, near), built)
    places = ways.joined().written(lines.places)
    # The last place of a ring is its first one again.
    ring = np.flatnonzero(lines.closed)
    places[lines.first[ring + 1] - 1] = places[lines.first[ring]]
    return Ruled(
        lines=Polylines(places=places, first=lines.first, closed=lines.closed),
        built=built,
        straight=_within(lines, ways.taken(plainly)),
        seen=seen,
        ways=ways,
        uprights=uprights,
    )


def _straight(lines: Polylines, near: Floats) -> Stretches:
    """What is straight by itself."""
    return straight_stretches(lines, near, _STRICT, divided(lines, corners(lines)))


def _within(lines: Polylines, stretches: Stretches) -> Flags:
    """Which places are of stretches."""
    change = np.zeros(len(lines.places) + 1, np.int64)
    np.add.at(change, stretches.begin, 1)
    np.add.at(change, stretches.end + 1, -1)
    return np.asarray(np.cumsum(change)[:-1] > 0)


def _certain(lines: Polylines, near: Floats, found: Stretches, built: Flags) -> Flags:
    """Which stretches are no curves that are known too roughly to show it, as a wooded bank."""
    within = np.sqrt(near[found.begin] * near[found.end])
    sure = (within < _SEEN_MM) | (found.lengths_mm(lines) > _SURELY * within)
    sure |= np.abs(found.way).min(axis=1) < _LEVEL_SINE
    may = ~sure & built[lines.owner[found.begin]]
    may &= found.lengths_mm(lines) > _BUILT_SURELY * within
    if not built.all():
        may &= np.abs(found.way).min(axis=1) < _NEARLY_LEVEL_SINE
    if may.any():
        sure[may] = fitted(lines, (found.begin[may], found.end[may]), near, _SOUND)[2]
    return np.asarray(sure | alike(lines, found.taken(sure), found.middle, found.way))


def _ruled(lines: Polylines, near: Floats, straight: Stretches, built: Flags) -> Stretches:
    """With what is ruled of built lines instead of what is straight by itself."""
    mine = built[lines.owner]
    # Whatever frays has corners of its own.
    whole = _of(divided(lines, furthest_apart(lines)), mine)
    frayed = straight_stretches(lines, near, _RULED, whole)
    sound = fitted(lines, (frayed.begin, frayed.end), near, _STRICT)[2]
    frayed = joined([frayed.taken(sound), turned(lines, frayed.taken(~sound), straight, near)])
    found = joined([straight.taken(~mine[straight.begin]), frayed])
    rest = _of(_between(lines, found), mine)

    def fits(middle: Floats, way: Floats) -> Flags:
        return alike(lines, found, middle, way)

    return joined([found, straight_stretches(lines, near, _ALIKE, rest, fits)])


def _of(ends: tuple[Ints, Ints], which: Flags) -> tuple[Ints, Ints]:
    """Stretches that begin at some places."""
    return ends[0][which[ends[0]]], ends[1][which[ends[0]]]


def _between(lines: Polylines, found: Stretches) -> tuple[Ints, Ints]:
    """First and last places of what is between stretches."""
    begin = np.sort(np.concatenate((lines.first[:-1], found.end)))
    return begin, np.sort(np.concatenate((found.begin, lines.first[1:] - 1)))
