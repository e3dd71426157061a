"""Lines divided into straight stretches: what is not straight is parted where it is furthest off.

So polygons are found in curves that are given by places (Ramer 1972; Douglas and Peucker 1973).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines
from worker.picture.outline.ruling.fitting import Rule, Stretches, fitted, joined

#: How often a stretch is divided.
_ROUNDS = 7


def straight_stretches(
    lines: Polylines,
    near: Floats,
    rule: Rule,
    ends: tuple[Ints, Ints],
    fits: Callable[[Floats, Floats], Flags] | None = None,
) -> Stretches:
    """Straight stretches.

    Args:
        lines: All of them.
        near: How near each place is known.
        rule: What is straight.
        ends: First and last places of what is divided.
        fits: Says by middle and direction which may be stretches; all may if not given.
    """
    (begin, end), along = ends, lines.along_mm
    nothing = np.zeros((0, 2))
    found = [Stretches(begin=begin[:0], end=end[:0], middle=nothing, way=nothing)]
    for shortest in (rule.shortest_mm, *(rule.shortest_part_mm,) * _ROUNDS):
        long = along[end] - along[begin] >= shortest
        begin, end = begin[long], end[long]
        if not len(begin):
            break
        middle, way, good, worst = fitted(lines, (begin, end), near, rule)
        if fits is not None:
            good &= fits(middle, way)
        whole = Stretches(begin=begin, end=end, middle=middle, way=way)
        found.append(whole.taken(good))
        begin, at, end = begin[~good], worst[~good], end[~good]
        begin, end = np.concatenate((begin, at)), np.concatenate((at, end))
    return joined(found)


def divided(lines: Polylines, corner: Flags) -> tuple[Ints, Ints]:
    """First and last places of stretches between corners and ends."""
    knot = corner.copy()
    knot[lines.first[:-1]] = knot[lines.first[1:] - 1] = True
    at, owner = np.flatnonzero(knot), lines.owner
    same = owner[at[:-1]] == owner[at[1:]]
    return at[:-1][same], at[1:][same]


def furthest_apart(lines: Polylines) -> Flags:
    """Marks the place of each ring that is furthest from its first one."""
    far = np.hypot(*(lines.places - lines.places[lines.first[lines.owner]]).T)
    furthest = np.maximum.reduceat(far, lines.first[:-1])
    return np.asarray(lines.closed[lines.owner] & (far >= furthest[lines.owner]))
