"""The course of contours: along which edge each goes, and where it is the ridge itself.

An edge that is soon left is none, and where a line goes over from one edge to another, or from
an edge to its ridge, it does so gradually.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.edge_following import Beside
from worker.picture.outline.contours.ridge_places import Doubles, Flags, Ints, Places
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats

#: Over which length a line goes along an edge at least, in pixels of the map.
_ALONG_MAP_PX = 2.0
#: Holes in an edge along its ridge that are no holes, in places; and steps along the edge from
#: one place to the next that are no detour.
_HOLE, _DETOUR = 3, 8
#: An edge bends away where it ends: where a line goes over from one to another, or to its ridge,
#: so much of either is drawn anew, in pixels of the map.
_OVER_MAP_PX = 1.5
#: How soon a line returns from an edge to its ridge, in pixels of the map.
_RETURN_MAP_PX = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """What is known of each place.

    Attributes:
        edge: The edge that is the line, or -1.
        rank: The edge's point, as a place in the order of all edges, or -1.
        offset: How far the line is from the ridge, in pixels of the grid.
    """

    edge: Ints
    rank: Ints
    offset: Floats

    def trimmed(self, places: Places) -> Course:
        """With edges only from point to point of theirs, after places were left out."""
        run = runs(self.edge, self.rank, places.line)
        known = self.rank >= 0
        held = _reached(known, run) & _reached(known[::-1], run[::-1])[::-1]
        edge = np.where(held, self.edge, -1)
        return Course(edge=edge, rank=np.where(held, self.rank, -1), offset=self.offset)

    def taken(self, which: Flags) -> Course:
        """That of some places."""
        return Course(edge=self.edge[which], rank=self.rank[which], offset=self.offset[which])


def course_of(
    points: Points, chains: Chains, best: Beside, places: Places, map_px: Doubles
) -> Course:
    """The course of all contours.

    Args:
        points: Of edges.
        chains: The edges.
        best: The point that is best at each place, if any.
        places: Along ridges.
        map_px: A pixel of the map at each place, in pixels of the grid.
    """
    known = _settled(_known(points, chains, best, len(places)), places, map_px)
    return _between_edges(known, places, map_px)


def _known(points: Points, chains: Chains, best: Beside, count: int) -> Course:
    ranks = np.full(len(points), -1, np.int64)
    # Of a ring's first point, which is its last one too, the first rank counts.
    ranks[chains.order[::-1]] = np.arange(len(chains.order))[::-1]
    edge, rank = np.full(count, -1, np.int64), np.full(count, -1, np.int64)
    offset = np.zeros(count, np.float32)
    rank[best.place] = ranks[best.point]
    edge[best.place] = chains.owner[ranks[best.point]]
    offset[best.place] = best.offset
    return Course(edge=edge, rank=rank, offset=offset)


def _settled(known: Course, places: Places, map_px: Doubles) -> Course:
    """Without edges that are soon left, and without jumps from edge to edge."""
    edge = _closed(known, places)
    run = runs(edge, known.rank, places.line)
    short = np.bincount(run)[run] < np.maximum(np.rint(_ALONG_MAP_PX * map_px), 3)
    edge = np.where(short, -1, edge)
    over = np.rint(_OVER_MAP_PX * map_px).astype(np.int64)
    change = np.flatnonzero((run[1:] != run[:-1]) & (places.line[1:] == places.line[:-1]))
    for step in range(1 - int(over.max(initial=0)), int(over.max(initial=0)) + 1):
        freed = change[np.maximum(1 - step, step) <= over[change]] + step
        edge[np.clip(freed, 0, len(edge) - 1)] = -1
    # A stretch begins and ends at a point of its edge.
    rank = np.where(edge >= 0, known.rank, -1)
    return Course(edge=edge, rank=rank, offset=known.offset).trimmed(places)


def _reached(flags: Flags, run: Ints) -> Flags:
    """Whether a flag is set here or before, in the same run."""
    last = np.maximum.accumulate(np.where(flags, np.arange(len(flags)), -1))
    return np.asarray((last >= 0) & (run[last] == run))


def _closed(known: Course, places: Places) -> Ints:
    """The edge of each place, also where a few places on either side have the same one."""
    edge, found = known.edge, known.edge.copy()
    around = [places.neighbours(reach) for reach in range(1, _HOLE + 1)]
    befores, afters = ([edge[at] for at in side] for side in zip(*around, strict=True))
    for before in befores:
        for after in afters:
            same = (found < 0) & (before >= 0) & (before == after)
            found[same] = before[same]
    return found


def runs(edge: Ints, rank: Ints, line: Ints) -> Ints:
    """Numbers stretches of places whose line is one edge, point after point, or none."""
    new = (np.diff(edge, prepend=-2) != 0) | (np.diff(line, prepend=-1) != 0)
    at = np.flatnonzero(rank >= 0)
    far = np.flatnonzero(np.abs(np.diff(rank[at])) > _DETOUR) + 1
    new[at[far]] = True
    return np.cumsum(new) - 1


def _between_edges(known: Course, places: Places, map_px: Doubles) -> Course:
    """With offsets where no edge is: from one edge to the next, or back to the ridge."""
    at, held = np.arange(len(places)), known.rank >= 0
    back, ahead = nearest(held, places.line)
    far_back = np.where(back >= 0, at - back, 10**6).astype(np.float64)
    far_ahead = np.where(ahead >= 0, ahead - at, 10**6).astype(np.float64)
    offset = known.offset
    between = (offset[back] * far_ahead + offset[ahead] * far_back) / np.maximum(
        far_back + far_ahead, 1
    )
    fade = np.clip(1 - np.minimum(far_back, far_ahead) / (_RETURN_MAP_PX * map_px), 0, 1)
    fade = fade * fade * (3 - 2 * fade)
    return Course(
        edge=known.edge,
        rank=known.rank,
        offset=np.where(held, offset, between * fade).astype(np.float32),
    )


def nearest(held: Flags, line: Ints) -> tuple[Ints, Ints]:
    """The nearest places before and after each on its line that an edge holds, or -1."""
    at, most = np.arange(len(held)), len(held) - 1
    back = np.maximum.accumulate(np.where(held, at, -1))
    ahead = np.minimum.accumulate(np.where(held, at, most + 1)[::-1])[::-1]
    back = np.where((back >= 0) & (line[back] == line), back, -1)
    ahead = np.where((ahead <= most) & (line[np.minimum(ahead, most)] == line), ahead, -1)
    return back, ahead
