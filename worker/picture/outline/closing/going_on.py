"""Lines become one along ways between their ends, or end on others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.ways_on import WaysOn
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats

_Ints = npt.NDArray[np.int64]
_Weights = npt.NDArray[np.uint8]
#: A line and which of its ends: 0 where it begins, 1 where it ends.
_End = tuple[int, int]


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawn:
    """Lines that are drawn.

    Attributes:
        chains: The lines, by points.
        weight: Of each.
        x, y: Of all points, those of ways last; in pixels of the grid.
        like: Of each point of a way the one that the way starts from.
    """

    chains: Chains
    weight: _Weights
    x: Floats
    y: Floats
    like: _Ints


def gone_on(drawn: Drawn, ways: WaysOn) -> Drawn:
    """Lines with ways.

    Args:
        drawn: The lines.
        ways: From their ends, each end once.
    """
    if not len(ways.end):
        return drawn
    inside = np.arange(ways.x.shape[1]) < ways.count[:, None]
    lines = _Lines(drawn, ways)
    parts, closed, weight = [], [], []
    for line in range(len(drawn.chains)):
        if line in lines.done:
            continue
        order, ring, members = lines.whole(line)
        parts.append(order)
        closed.append(ring)
        longest = max(members, key=lambda each: int(drawn.chains.counts[each]))
        weight.append(drawn.weight[longest])
    return Drawn(
        chains=Chains(
            order=np.concatenate(parts),
            first=np.concatenate(([0], np.cumsum([len(part) for part in parts]))),
            closed=np.array(closed, bool),
        ),
        weight=np.array(weight, np.uint8),
        x=np.concatenate((drawn.x, ways.x[inside])),
        y=np.concatenate((drawn.y, ways.y[inside])),
        like=np.concatenate((drawn.like, np.repeat(_known(drawn, ways.start), ways.count))),
    )


def _known(drawn: Drawn, places: _Ints) -> _Ints:
    """The points that places of lines are like."""
    point, base = drawn.chains.order[places], len(drawn.x) - len(drawn.like)
    known = point.copy()
    known[point >= base] = drawn.like[point[point >= base] - base]
    return known


class _Lines:
    """Lines and ways as points, put together from any line."""

    def __init__(self, drawn: Drawn, ways: WaysOn) -> None:
        chains = drawn.chains
        self.done: set[int] = set()
        self._chains, self._ways = chains, ways
        self._begin, self._end = chains.first[:-1].copy(), chains.first[1:].copy()
        self._first_new = len(drawn.x) + np.cumsum(ways.count) - ways.count
        self._at: dict[_End, tuple[int, bool]] = {}
        owner = chains.owner
        self._from = self._ends(owner[ways.end], ways.end)
        self._to = self._ends(owner[ways.met], np.where(ways.joins, ways.near, ways.met))
        for way, end in enumerate(self._from):
            self._at[end] = way, True
            self._cut(end, ways.start[way])
            if ways.joins[way]:
                self._at[self._to[way]] = way, False
                self._cut(self._to[way], ways.met[way])

    def _cut(self, end: _End, place: int) -> None:
        """Have a line end at a place of it, from where a way goes on."""
        line, last = end
        if last:
            self._end[line] = place + 1
        else:
            self._begin[line] = place

    def _ends(self, line: _Ints, place: _Ints) -> list[_End]:
        side = (place != self._chains.first[line]).astype(int)
        return list(zip(line.tolist(), side.tolist(), strict=True))

    def _own(self, line: int) -> _Ints:
        return self._chains.order[self._begin[line] : self._end[line]]

    def _way(self, way: int) -> _Ints:
        return np.asarray(self._first_new[way] + np.arange(self._ways.count[way]))

    def whole(self, line: int) -> tuple[_Ints, bool, list[int]]:
        """All that is one with a line, whether it is a ring, and its lines."""
        self.done.add(line)
        after, ring, members = self._outwards(line, 1)
        parts = [self._own(line), *after]
        if ring:
            return np.concatenate((*parts, parts[0][:1])), True, [line, *members]
        before, _, others = self._outwards(line, 0)
        parts = [each[::-1] for each in reversed(before)] + parts
        return (
            np.concatenate(parts),
            bool(self._chains.closed[line]),
            [line, *members, *others],
        )

    def _outwards(self, line: int, side: int) -> tuple[list[_Ints], bool, list[int]]:
        """What goes on from an end of a line, whether it comes back to it, and its lines."""
        origin = line
        parts: list[_Ints] = []
        members: list[int] = []
        while (line, side) in self._at:
            way, forward = self._at[line, side]
            points = self._way(way)
            parts.append(points if forward else points[::-1])
            if not self._ways.joins[way]:
                parts.append(self._chains.order[self._ways.met[way : way + 1]])
                break
            line, side = (self._to if forward else self._from)[way]
            if line == origin:
                return parts, True, members
            self.done.add(line)
            members.append(line)
            own = self._own(line)
            parts.append(own[::-1] if side else own)
            side = 1 - side
        return parts, False, members
