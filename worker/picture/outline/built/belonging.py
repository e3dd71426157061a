"""Which lines belong to others: what is built has no line by itself.

A sill ends at a wall, a mullion at a frame and a ridge at a gable. What meets nothing and is met by
nothing is a quoin, a stain, an anchor in a wall, or a leaf of the tree before it; what is bent is
of no more use where some of it hang together, nor where it hangs on something straight by one end.
A draughtsman leaves them out (common practice), above all where they are faint.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from worker.picture.outline.points.nearness import groups, within
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, joined_lines

#: An end meets a line within this, and the picture's edge within the second; a line is a ring that
#: meets itself if it is so many times as long.
_MEETS_MM, _EDGE_MM, _RING = 2.0, 3.0, 3.0
#: What hangs together is drawn from this length on if it is doubtful, and from the second if it is
#: bent as well and no part of it goes on beyond the picture: less than this share of it is ruled.
_SHORTEST_MM, _SHORTEST_BENT_MM, _RULED = 40.0, 140.0, 0.5
#: It is doubtful if it is worth no more than this, and above the second it needs the third length.
_DOUBTFUL, _WORTHY, _NOTHING_MM = 0.65, 0.95, 12.0
#: What is doubtful, bent and free at one end is so long; this is looked at so often, as what hung
#: on it is free then.
_SPUR_MM, _ROUNDS = 30.0, 2
#: What bounds a mass does so more surely than this.
BOUNDING = 0.6


@dataclass(frozen=True, kw_only=True, eq=False)
class BuiltLines:
    """Lines of what is built, with all else that is drawn.

    Attributes:
        lines: In mm of the picture.
        straight: Places of them that are ruled.
        worth: Of each what it is worth, however long it is.
        bounding: Of each how surely it bounds a mass that is plainly lighter or darker, 0 to 1.
        others: What else is drawn.
        size_mm: Of the picture, across and down.
    """

    lines: Polylines
    straight: Flags
    worth: Floats
    bounding: Floats
    others: Polylines
    size_mm: tuple[float, float]

    @cached_property
    def whole(self) -> Polylines:
        """All that is drawn, the lines first."""
        return joined_lines(self.lines, self.others)

    def taken(self, which: Flags) -> BuiltLines:
        """Some of the lines."""
        if which.all():
            return self
        return replace(
            self,
            lines=self.lines.taken(which),
            straight=self.straight[which[self.lines.owner]],
            worth=self.worth[which],
            bounding=self.bounding[which],
        )


def belonging(built: BuiltLines, less: float = 1.0) -> Flags:
    """Which lines belong to something.

    Args:
        built: The lines.
        less: 1 where contours alone are wanted, 0 where texture is too, which is short.
    """
    kept = np.ones(len(built.worth), np.bool_)
    for _ in range(_ROUNDS):
        kept[kept] = _belongs(built.taken(kept), less)
    return kept


def free_ends(built: BuiltLines) -> Flags:
    """Which ends meet nothing, of lines that meet something or are long; (lines, 2)."""
    free = _Meetings.of(built).free
    alone = free.all(axis=1) & (built.lines.lengths_mm < _SHORTEST_MM)
    return np.asarray(free & ~alone[:, None])


def _belongs(built: BuiltLines, less: float) -> Flags:
    """Which lines belong to something, as they are together."""
    met, lines = _Meetings.of(built), built.lines
    length = lines.lengths_mm.astype(np.float64)
    share = np.bincount(lines.owner, built.straight, len(length)) / np.diff(lines.first)
    doubt = np.clip((_WORTHY - built.worth) / (_WORTHY - _DOUBTFUL), 0, 1)
    whole, ruled, doubts = (met.sums(each * length) for each in (1.0, share, doubt))
    bent = (ruled < _RULED * whole) & ~met.any(met.edge)
    least = np.where(bent, _SHORTEST_BENT_MM, _SHORTEST_MM) * doubts / np.maximum(whole, 1e-9)
    nothing = (whole < less * np.maximum(least, _NOTHING_MM)) & ~met.held & ~met.any(met.ring)
    spur = met.free.any(axis=1) & (share < _RULED) & (length < less * _SPUR_MM * doubt)
    return np.asarray(~nothing & ~(spur & ~met.edge & ~met.onward))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Meetings:
    """What lines meet.

    Attributes:
        group: A number for each line, the same for those that hang together.
        held: Which hang together with what else is drawn.
        ring: Which are closed.
        edge: Which end at the picture's edge.
        free: Which ends of each meet nothing; (lines, 2).
        onward: Which go on from the end of another.
    """

    group: Ints
    held: Flags
    ring: Flags
    edge: Flags
    free: Flags
    onward: Flags

    @classmethod
    def of(cls, built: BuiltLines) -> _Meetings:
        """Those of lines with each other, with what else is drawn, and with the edge."""
        count, lines = len(built.worth), built.whole
        owner, along = lines.owner, lines.along_mm
        tips = np.stack((lines.first[:-1], lines.first[1:] - 1), axis=1)
        open_lines = np.flatnonzero(~lines.closed)
        ends = tips[open_lines].ravel()
        end, met = within(lines.places[ends], lines.places, _MEETS_MM)
        one, two = owner[ends[end]], owner[met]
        # An end meets its own line only where that ends as well.
        itself = (met == ends[end ^ 1]) & (lines.lengths_mm[two] > _RING * _MEETS_MM)
        end, met, one, two = (each[(one != two) | itself] for each in (end, met, one, two))
        group = groups(len(tips), one, two)
        inside = np.minimum(lines.places[ends], np.array(built.size_mm) - lines.places[ends])
        at_edge = (inside < _EDGE_MM).any(axis=1)
        free = np.zeros((len(tips), 2), np.bool_)
        free[open_lines] = ~(at_edge | (np.bincount(end, minlength=len(ends)) > 0)).reshape(-1, 2)
        tip = np.abs(along[met] - along[tips[two]].T).min(axis=0, initial=np.inf) < _MEETS_MM
        return cls(
            group=group[:count],
            held=np.isin(group[:count], group[count:]),
            ring=_marked(np.concatenate((np.flatnonzero(lines.closed), one[one == two])), count),
            edge=_marked(owner[ends[at_edge]], count),
            free=free[:count],
            onward=_marked(one[tip & (one != two)], count),
        )

    def sums(self, values: Floats) -> Floats:
        """Of each line the sum over all that hang together with it."""
        return np.asarray(np.bincount(self.group, values)[self.group])

    def any(self, which: Flags) -> Flags:
        """Which lines hang together with some."""
        return np.asarray(self.sums(which.astype(np.float64)) > 0)


def _marked(lines: Ints, count: int) -> Flags:
    """Which of so many lines are among others."""
    found = np.zeros(count, np.bool_)
    found[lines[lines < count]] = True
    return found
