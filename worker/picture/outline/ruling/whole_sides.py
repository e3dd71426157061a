"""Sides of what stands are ruled as wholes: a wall's end, a post, the corner of a trough.

Quoins, shade and a creeper break one into pieces, each of which is ruled by itself, a little turned
and aside, with bulges between. A draughtsman draws one line from top to foot (common practice),
where it waves to both sides of what is upright there, and no piece of it is most of it.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses
from worker.picture.outline.ruling.dividing import straight_stretches
from worker.picture.outline.ruling.fitting import Rule, Stretches, joined
from worker.picture.outline.ruling.uprights import Uprights

#: What stands is upright within this sine, and is a whole unless a stretch of it is more than this
#: part. It is looked for where lines run as steeply, by the second sine, over so many mm to either
#: side.
_UPRIGHT_SINE, _MOSTLY, _STEEP, _COURSE_MM = 0.05, 0.8, 0.4, 5.0
_WHOLE = Rule(
    shortest_mm=24.0,
    shortest_part_mm=24.0,
    aside=0.06,
    bow=0.015,
    nearer=3.0,
    frayed=0.1,
    furthest=5.0,
)


def with_whole_sides(
    lines: Polylines, near: Floats, found: Stretches, uprights: Uprights
) -> Stretches:
    """Stretches, with wholes instead of the pieces of what stands.

    Args:
        lines: Of which they are.
        near: How near each place is known.
        found: In the order of the lines.
        uprights: How what stands leans.
    """

    def stands(middle: Floats, way: Floats) -> Flags:
        upright = uprights.ways(middle)
        sine = way[:, 0] * upright[:, 1] - way[:, 1] * upright[:, 0]
        return np.asarray(np.abs(sine) < _UPRIGHT_SINE)

    steep = np.abs(courses(lines, _COURSE_MM)[:, 0]) < _STEEP
    whole = straight_stretches(lines, near, _WHOLE, _runs(lines, steep), stands)
    whole = whole.taken(_longest_within(whole, found) < _MOSTLY * (whole.end - whole.begin))
    covered = np.zeros(len(lines.places) + 1, np.int64)
    np.add.at(covered, whole.begin, 1)
    np.add.at(covered, whole.end + 1, -1)
    free = np.cumsum(covered)[:-1] == 0
    return joined([found.taken(free[found.begin] & free[found.end]), whole])


def _longest_within(whole: Stretches, found: Stretches) -> Ints:
    """How much of each whole the longest stretch has that it shares places with.

    Args:
        whole: Any.
        found: In the order of the lines.
    """
    low = np.searchsorted(np.maximum.accumulate(found.end), whole.begin)
    many = np.maximum(np.searchsorted(found.begin, whole.end, side="right") - low, 0)
    one = np.repeat(np.arange(len(whole)), many)
    two = np.arange(len(one)) + np.repeat(low - (np.cumsum(many) - many), many)
    inside = np.minimum(found.end[two], whole.end[one])
    inside -= np.maximum(found.begin[two], whole.begin[one])
    longest = np.zeros(len(whole), np.int64)
    np.maximum.at(longest, one, inside)
    return longest


def _runs(lines: Polylines, which: Flags) -> tuple[Ints, Ints]:
    """First and last places of runs of some places of one line."""
    new = (np.diff(lines.owner, prepend=-1) != 0) | np.diff(which, prepend=False)
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(which)) - 1
    return first[which[first]], last[which[first]]
