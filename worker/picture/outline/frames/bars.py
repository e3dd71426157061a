"""Bars: columns, posts and beams have two sides, of which the reading makes one line.

The reading's map is as coarse as a column is wide, and its ridge runs down the middle of it or on
either side. The picture has plain edges to both: one that turns dark and one that turns light
again. A draughtsman draws these, straight and parallel (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.frames.painted_edges import Beside, PaintedEdges, inwards
from worker.picture.outline.polylines import Flags, Floats, Ints, dots
from worker.picture.outline.ruling.meeting import Ways
from worker.picture.outline.ruling.uprights import Uprights

#: Lengths are in mm of a picture of 60 x 40 cm: the map's pixels are as large as the print is.
#: What stands over so many mm may be a bar, so wide, at least and at most; it is so many times as
#: long as wide, and leans by no more than this sine from upright.
_SHORTEST_MM, _NARROW_MM, _WIDE_MM, _SLENDER, _LEANS = 12.0, 2.0, 9.0, 2.5, 0.08
#: Sides are looked for so far to both sides of the line, in such steps, in so many places of each;
#: and the line is no further out of the bar than this.
_FAR_MM, _STEP_MM, _LOOKED, _OUT_MM = 8.0, 0.8, 10, 1.0
#: Each side has edges over so much of it.
_SHARE = 0.55


@dataclass(frozen=True, kw_only=True, eq=False)
class Bars:
    """Bars that lines run along.

    Attributes:
        begin, end: First and last places of the lines' stretches.
        one, two: Start and stop of both sides, (bars, 2, 2).
    """

    begin: Ints
    end: Ints
    one: Floats
    two: Floats

    @classmethod
    def none(cls) -> Bars:
        """Not a single one."""
        nothing, sides = np.zeros(0, np.int64), np.zeros((0, 2, 2))
        return cls(begin=nothing, end=nothing, one=sides, two=sides)

    def __len__(self) -> int:
        """How many."""
        return len(self.begin)

    @property
    def lengths_mm(self) -> Floats:
        """From start to stop of each."""
        way = self.one[:, 1] - self.one[:, 0]
        return np.sqrt(dots(way, way))

    def way(self, at: int) -> Floats:
        """The unit vector from start to stop of one."""
        way = self.one[at, 1] - self.one[at, 0]
        return np.asarray(way / np.hypot(*way))

    def taken(self, which: Flags) -> Bars:
        """Some of them."""
        names = Bars.__dataclass_fields__
        return Bars(**{name: getattr(self, name)[which] for name in names})


def bars_of(ways: Ways, which: Flags, uprights: Uprights, painted: PaintedEdges) -> Bars:
    """Bars that edges have along what stands.

    Args:
        ways: Ruled stretches of lines.
        which: Those that are looked at.
        uprights: How what stands leans.
        painted: The picture's edges.
    """
    scale, long = painted.scale, np.hypot(*(ways.stop - ways.start).T)
    middle = (ways.start + ways.stop) / 2
    way = uprights.ways(middle)
    chord = ways.stop - ways.start
    stands = np.abs(chord[:, 0] * way[:, 1] - chord[:, 1] * way[:, 0]) < _LEANS * long
    some = np.flatnonzero(which & stands & (long > _SHORTEST_MM * scale))
    half = way[some] * long[some, None] / 2
    start, stop, long = middle[some] - half, middle[some] + half, long[some]
    far = np.arange(-_FAR_MM, _FAR_MM + _STEP_MM / 2, _STEP_MM)
    light, dark = painted.beside(start, stop, far * scale, _LOOKED)
    one, two, is_dark, good = _best(long / scale, far, light, dark)
    at = np.flatnonzero(good)
    off = [
        np.where(is_dark[at], first.aside[at, side[at]], second.aside[at, side[at]])
        + far[side[at]] * scale
        for side, first, second in ((one, dark, light), (two, light, dark))
    ]
    wide = off[1] - off[0]
    # Nor is any so narrow that its sides are one line in print.
    real = (wide > max(_NARROW_MM * scale, APART_MM)) & (wide < _WIDE_MM * scale)
    ends = np.stack((start, stop), axis=1)[at[real]]
    across = inwards(stop - start)[at[real], None]
    sides = [ends + each[real, None, None] * across for each in off]
    line = some[at[real]]
    return Bars(begin=ways.begin[line], end=ways.end[line], one=sides[0], two=sides[1])


def _best(
    long: Floats, far: Floats, light: Beside, dark: Beside
) -> tuple[Ints, Ints, Flags, Flags]:
    """The best pair of places beside each, whether it is dark between, and whether it is a bar.

    Args:
        long: How long each is, in mm of a picture of 60 x 40 cm.
        far: How far beside each the places are, in these.
        light: Edges there that are lighter inside.
        dark: Those that are darker.
    """
    value = [np.where(each.share > _SHARE, each.share * each.levels, 0.0) for each in (light, dark)]
    best = np.zeros(len(long))
    one, two = np.zeros(len(long), np.int64), np.zeros(len(long), np.int64)
    is_dark = np.zeros(len(long), np.bool_)
    for a, b in combinations(range(len(far)), 2):
        wide = far[b] - far[a]
        if not (_NARROW_MM <= wide <= _WIDE_MM) or far[a] > _OUT_MM or far[b] < -_OUT_MM:
            continue
        for between in (False, True):
            # What is between is inside of the first, and outside of the second.
            low, high = value[between], value[not between]
            now = np.minimum(low[:, a], high[:, b]) * (1 - wide / (2 * _WIDE_MM))
            better = (now > best) & (long > _SLENDER * wide)
            best[better], one[better], two[better] = now[better], a, b
            is_dark[better] = between
    return one, two, is_dark, best > 0
