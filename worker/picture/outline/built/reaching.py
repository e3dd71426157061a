"""Ruled lines go on to the line that they are heading for.

A column is seen from its foot to the shade of the eaves, and a mullion up to a bar in the dark. A
draughtsman rules it until it meets what is ahead (common practice), if that is near and the reading
sees anything of a line between. So does what bounds a mass, though it is not ruled: a hill's edge
ends at the tree before it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from worker.picture.outline.built.belonging import BOUNDING, BuiltLines, free_ends
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.ruling.ahead import ahead

#: A line goes on so far at most, and by no more than this part of its last stretch.
_REACH_MM, _PART = 14.0, 0.75
#: Its direction is that of its last millimetres, and its last stretch what lies so near to that.
_COURSE_MM, _NEAR_MM = 6.0, 0.3
#: What bounds a mass lies so near, and goes on so far.
_FRAYED_MM, _MASS_REACH_MM = 1.0, 20.0
#: To the picture's edge what bounds a mass goes on so much further.
_EDGE_MM = 15.0
#: The reading sees so much of a line between, in the mean of so many places.
_SEEN, _LOOKED = 0.1, 8


def reaching(built: BuiltLines, seen: Callable[[Floats], Floats]) -> Polylines:
    """Lines whose free ends go on to others, where they are ruled or bound a mass.

    Args:
        built: The lines.
        seen: How likely the reading makes a line at places, 0 to 1.
    """
    lines = built.lines
    ends = _Ends.of(lines, built.straight, free_ends(built), built.bounding > BOUNDING)
    far = ahead(lines.places[ends.at], ends.way, ends.most, built.whole, lines.owner[ends.at])
    edge = _edge_ahead(lines.places[ends.at], ends.way, built.size_mm)
    far = np.minimum(far, np.where(edge < ends.most + _EDGE_MM * ends.frayed, edge, np.inf))
    found = np.flatnonzero(np.isfinite(far))
    share = (np.arange(_LOOKED) + 0.5)[:, None] / _LOOKED
    way = far[found, None] * ends.way[found]
    between = lines.places[ends.at[found], None] + share * way[:, None]
    likely = seen(between.reshape(-1, 2)).reshape(-1, _LOOKED).mean(axis=1)
    places = lines.places.copy()
    for one in found[likely > _SEEN].tolist():
        run = slice(min(ends.at[one], ends.begin[one]), max(ends.at[one], ends.begin[one]) + 1)
        along = (lines.places[run] - lines.places[ends.begin[one]]) @ ends.way[one]
        places[run] += (along * far[one] / ends.long[one])[:, None] * ends.way[one]
    return Polylines(places=places, first=lines.first, closed=lines.closed)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ends:
    """Free ends that are ruled, or of what bounds a mass.

    Attributes:
        at: Their places.
        way: Unit vectors onwards, (ends, 2).
        begin: Places where their last stretches begin.
        long: How long these are, in mm.
        most: How far each may go on, in mm.
        frayed: Which are not ruled.
    """

    at: Ints
    way: Floats
    begin: Ints
    long: Floats
    most: Floats
    frayed: Flags

    @classmethod
    def of(cls, lines: Polylines, straight: Flags, free: Flags, frayed: Flags) -> _Ends:
        """Those of lines whose ends of some are free, (lines, 2); frayed ones need no ruler."""
        at, ways, begins, ruled = list[int](), list[Floats](), list[int](), list[bool]()
        many = max(round(_COURSE_MM / max(lines.usual_step_mm, 1e-9)), 2) if len(free) else 0
        for line, side in np.argwhere(free).tolist():
            own = np.arange(lines.first[line], lines.first[line + 1])[:: -1 if side else 1]
            if len(own) <= many or not (straight[own[0]] or frayed[line]):
                continue
            rest = lines.places[own] - lines.places[own[0]]
            way = -rest[many] / max(float(np.hypot(*rest[many])), 1e-9)
            off = np.abs(rest[:, 0] * way[1] - rest[:, 1] * way[0]) > (
                _NEAR_MM if straight[own[0]] else _FRAYED_MM
            )
            last = int(off.argmax()) - 1 if off.any() else len(own) - 1
            # What wriggles at its end heads for nothing.
            if last < (1 if straight[own[0]] else many):
                continue
            at.append(int(own[0]))
            ruled.append(bool(straight[own[0]]))
            ways.append(way)
            begins.append(int(own[last]))
        places, begin = np.array(at, np.int64), np.array(begins, np.int64)
        long = np.asarray(np.hypot(*(lines.places[places] - lines.places[begin]).T))
        return cls(
            at=places,
            way=np.array(ways, np.float64).reshape(-1, 2),
            begin=begin,
            long=long,
            frayed=~np.array(ruled, np.bool_),
            most=np.where(ruled, np.minimum(_REACH_MM, _PART * long), _MASS_REACH_MM),
        )


def _edge_ahead(start: Floats, way: Floats, size_mm: tuple[float, float]) -> Floats:
    """How far it is from each place to the picture's edge, in mm."""
    to = np.where(way > 0, np.array(size_mm) - start, -start)
    with np.errstate(divide="ignore", invalid="ignore"):
        far = np.where(way == 0, np.inf, to / way)
    return np.asarray(far.min(axis=1, initial=np.inf))
