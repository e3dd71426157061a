"""What stands in a built picture runs to one point: columns, wall ends and poles are upright.

Edges that stand straight up in a scene meet in one vanishing point (Caprile and Torre 1990), which
is far away, so that their lean changes evenly over the picture. Where most plain edges agree, that
of a place is known far better than the reading knows the sides of a column, whose map bows towards
what the column carries. A draughtsman rules all of them alike (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses, dots
from worker.picture.outline.ruling.fitting import Stretches
from worker.picture.outline.ruling.segments import Segments

#: Edges that stand are so long, and lean by no more than this sine.
_EDGE_MM, _LEANS = 8.0, 0.3
#: There are so many mm of them at least, of which such a part agrees within this slope; fitted so
#: often, those that are off count less each time by this slope.
_LEAST_MM, _MOSTLY, _AGREES, _ROUNDS, _DOUBT = 800.0, 0.6, 0.03, 6, 0.02
#: A line stands where its course over so many mm to either side is this near to upright, by the
#: sine, for so long; and all of that is, by the second.
_COURSE_MM, _STEEP, _SHORTEST_MM, _WHOLE = 3.0, 0.26, 10.0, 0.12
#: So much of it is no further from one upright line than so many mm, and so many times as near as
#: it is known.
_MOST, _OFF_MM, _OFF = 0.6, 1.2, 1.6
#: What is ruled and leans by less than this sine from upright is upright, if no end of it moves
#: further than this and so many times as near as it is known.
_NEARLY, _MOVED_MM, _MOVED = 0.06, 0.6, 0.8
#: Leans change per so many mm.
_UNIT_MM = 100.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Uprights:
    """How what stands leans.

    Attributes:
        lean: Its slope, across by down, at the picture's corner, and how that changes in
            `_UNIT_MM` across and down; (3,).
    """

    lean: Floats

    def ways(self, places: Floats) -> Floats:
        """Unit vectors downwards at places in mm; (places, 2)."""
        slope = _terms(places) @ self.lean
        return np.stack((slope, np.ones(len(slope))), axis=1) / np.hypot(slope, 1)[:, None]


def uprights_of(segments: Segments) -> Uprights | None:
    """How most of what stands leans, if most of it agrees.

    Args:
        segments: Straight edges of the picture.
    """
    way, long = segments.ways, segments.lengths_mm
    stands = (np.abs(way[:, 0]) < _LEANS) & (long > _EDGE_MM)
    way, long = way[stands], long[stands]
    if long.sum() < _LEAST_MM:
        return None
    terms = _terms((segments.start[stands] + segments.stop[stands]) / 2)
    slope, weight = way[:, 0] / way[:, 1], long
    for _ in range(_ROUNDS):
        share = np.sqrt(weight)
        lean = np.linalg.lstsq(terms * share[:, None], slope * share, rcond=None)[0]
        off = np.abs(slope - terms @ lean)
        # What is far off counts less (Cauchy's weights).
        weight = long / (1 + (off / _DOUBT) ** 2)
    agrees = long[off < _AGREES].sum() > _MOSTLY * long.sum()
    return Uprights(lean=lean) if agrees else None


def made_upright(
    lines: Polylines, stretches: Stretches, uprights: Uprights, near: Floats
) -> Stretches:
    """Stretches of which those that are nearly upright are.

    Args:
        lines: Of which they are.
        stretches: That are ruled.
        uprights: How what stands leans.
        near: How near each place is known.
    """
    way = uprights.ways(stretches.middle)
    way *= np.where(dots(way, stretches.way) < 0, -1, 1)[:, None]
    sine = np.abs(_cross(way, stretches.way))
    moved = sine * stretches.lengths_mm(lines) / 2
    known = np.sqrt(near[stretches.begin] * near[stretches.end])
    turned = (sine < _NEARLY) & (moved < np.maximum(_MOVED_MM, _MOVED * known))
    # It is turned about the middle of what it is of, not about some place on its line.
    half = (lines.places[stretches.begin] + lines.places[stretches.end]) / 2
    half = stretches.middle + dots(half - stretches.middle, stretches.way)[:, None] * stretches.way
    return replace(
        stretches,
        middle=np.where(turned[:, None], half, stretches.middle),
        way=np.where(turned[:, None], way, stretches.way),
    )


def upright_stretches(
    lines: Polylines, uprights: Uprights, near: Floats, free: Flags
) -> Stretches:
    """Stretches of lines that stand.

    Args:
        lines: All of them.
        uprights: How what stands leans.
        near: How near each place is known.
        free: Which places may be of any.
    """
    ways = uprights.ways(lines.places)
    steep = free & (np.abs(_cross(courses(lines, _COURSE_MM), ways)) < _STEEP)
    begin, end, middle = list[int](), list[int](), list[Floats]()
    for first, last in _long_runs(lines, steep):
        places, way = lines.places[first : last + 1], ways[(first + last) // 2]
        off = places[:, 0] * way[1] - places[:, 1] * way[0]
        usual = float(np.median(off))
        close = np.abs(off - usual) < np.maximum(_OFF_MM, _OFF * near[first : last + 1])
        one, two = _longest(close)
        chord = places[two] - places[one]
        long = float(np.hypot(*chord))
        aside = abs(float(chord[0] * way[1] - chord[1] * way[0]))
        if two - one + 1 < _MOST * len(off) or long < _SHORTEST_MM or aside > _WHOLE * long:
            continue
        begin.append(first + one)
        end.append(first + two)
        centre = places[one : two + 1].mean(axis=0)
        middle.append(centre)
    at = np.array(middle, np.float64).reshape(-1, 2)
    return Stretches(
        begin=np.array(begin, np.int64),
        end=np.array(end, np.int64),
        middle=at,
        way=uprights.ways(at),
    )


def _terms(places: Floats) -> Floats:
    return np.concatenate((np.ones((len(places), 1)), places / _UNIT_MM), axis=1)


def _long_runs(lines: Polylines, which: Flags) -> list[tuple[int, int]]:
    """First and last places of runs of one line that are long enough."""
    new = (np.diff(lines.owner, prepend=-1) != 0) | np.diff(which, prepend=False)
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(which)) - 1
    along = lines.along_mm
    long: Ints = which[first] & (along[last] - along[first] >= _SHORTEST_MM)
    return list(zip(first[long].tolist(), last[long].tolist(), strict=True))


def _longest(which: Flags) -> tuple[int, int]:
    """First and last of the longest run."""
    change = np.flatnonzero(np.diff(np.concatenate(([False], which, [False])).astype(np.int8)))
    if not len(change):
        return 0, 0
    runs = change.reshape(-1, 2)
    one, two = runs[np.argmax(runs[:, 1] - runs[:, 0])].tolist()
    return int(one), int(two) - 1


def _cross(one: Floats, two: Floats) -> Floats:
    return np.asarray(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
