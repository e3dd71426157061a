"""Outlines of masses go on over gaps.

Leaves fray a tree's edge, and the reading has it in pieces whose ends hook aside. A draughtsman
draws the edge as one (common practice). Two free ends that head for each other, hooks left out, are
led to each other by a curve that leaves the one line and enters the other as they run.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np

from worker.picture.outline.built.belonging import BOUNDING, BuiltLines, free_ends
from worker.picture.outline.points.nearness import within
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines

#: So much may be a hook at either end, tried in this order; what runs from there on so far is the
#: line's direction.
_HOOKS_MM, _COURSE_MM = (3.0, 6.0, 9.0, 12.0, 16.0), 12.0
#: From there to there it is no further than this, and the way is as both run, by this cosine; the
#: one runs as the other does by the second.
_GAP_MM, _COSINE, _ONE_WAY = 24.0, 0.7, 0.3
#: A line is so long, and is not ruled at its end.
_LONG_MM = 40.0


def continuing(built: BuiltLines) -> Polylines:
    """Lines of which free ends that head for each other meet.

    Args:
        built: The lines.
    """
    lines, free = built.lines, free_ends(built)
    free &= ((built.bounding > BOUNDING) & (lines.lengths_mm > _LONG_MM))[:, None]
    tips = np.stack((lines.first[:-1], lines.first[1:] - 1), axis=1)
    ends = _ends(lines, free & ~built.straight[tips])
    places = lines.places.copy()
    found = sorted(
        (*way, one, two)
        for one, two in _near(ends)
        if ends[one].line != ends[two].line and (way := _way(ends[one], ends[two])) is not None
    )
    taken: set[int] = set()
    for _, hooks, one, two in found:
        if not taken & {one, two}:
            taken |= {one, two}
            _lead(places, ends[one], ends[two], hooks)
    return Polylines(places=places, first=lines.first, closed=lines.closed)


class _End:
    """An end of a line: its places from the end on, and where it runs after each hook."""

    def __init__(self, lines: Polylines, own: Ints, hooks: list[int], course: int) -> None:
        self.line, self.own, self.hooks = int(lines.owner[own[0]]), own, hooks
        places = lines.places
        self.at = [places[own[each]] for each in self.hooks]
        ways = [places[own[each]] - places[own[each + course]] for each in self.hooks]
        self.ways = [way / max(float(np.hypot(*way)), 1e-9) for way in ways]


def _ends(lines: Polylines, which: Flags) -> list[_End]:
    """Some ends of lines, (lines, 2); none of a line with too few places for a course."""
    ends, long_mm = list[_End](), lines.lengths_mm
    for line, side in np.argwhere(which).tolist():
        own = np.arange(lines.first[line], lines.first[line + 1])[:: -1 if side else 1]
        step_mm = float(long_mm[line]) / max(len(own) - 1, 1)
        *hooks, course = (max(round(each / step_mm), 1) for each in (*_HOOKS_MM, _COURSE_MM))
        if len(own) > hooks[-1] + course:
            ends.append(_End(lines, own, hooks, course))
    return ends


def _near(ends: list[_End]) -> Iterator[tuple[int, int]]:
    """Pairs of ends that are near enough to be led to each other, the later one first."""
    at = np.reshape([end.at[0] for end in ends], (-1, 2))
    one, two = within(at, at, _GAP_MM)
    return zip(one[one > two].tolist(), two[one > two].tolist(), strict=True)


def _way(one: _End, two: _End) -> tuple[float, tuple[int, int]] | None:
    """How much is left out and how far it is between two ends, and at which hooks; or none."""
    found = list[tuple[float, tuple[int, int]]]()
    for a, b in product(range(len(_HOOKS_MM)), repeat=2):
        gap = two.at[b] - one.at[a]
        far = float(np.hypot(*gap))
        along = min(float(gap @ one.ways[a]), -float(gap @ two.ways[b]))
        onward = -float(one.ways[a] @ two.ways[b]) > _ONE_WAY
        if far < _GAP_MM and along > _COSINE * far and onward:
            found.append((far + _HOOKS_MM[a] + _HOOKS_MM[b], (a, b)))
    return min(found, default=None)


def _lead(places: Floats, one: _End, two: _End, hooks: tuple[int, int]) -> None:
    """Put the places of both hooks on a curve between the ends (cubic Hermite)."""
    a, b = hooks
    own = np.concatenate((one.own[one.hooks[a] :: -1], two.own[: two.hooks[b] + 1]))
    far = float(np.hypot(*(two.at[b] - one.at[a])))
    t = np.linspace(0.0, 1.0, len(own) - 1)
    # Both lines have the place where they meet.
    t = np.insert(t, one.hooks[a], t[one.hooks[a]])[:, None]
    places[own] = (
        (1 + 2 * t) * (1 - t) ** 2 * one.at[a]
        + t * (1 - t) ** 2 * far * one.ways[a]
        + t**2 * (3 - 2 * t) * two.at[b]
        + t**2 * (1 - t) * far * two.ways[b]
    )
