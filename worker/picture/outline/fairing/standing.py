"""What stands among others that stand has fair sides: trunks, poles, reeds.

Bark, twigs and what is behind make the side of a trunk wobble by some millimetres, where a
draughtsman draws one nearly straight line down to the foot (common practice). So where most of what
is drawn around runs steeply, a stretch that does is laid on the line, or the gentle parabola, that
fits it best. What leaves that by more than a wobble, as a foot or a fork, stays as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.gaussian import box_mean
from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines, courses

#: A line is steep by its course over so many mm to either side, up to this sine from upright.
_COURSE_MM, _STEEP = 12.0, 0.3
#: It stands among others where this part of all line around is steep, and so many mm of it in each
#: square: of such a size, with so many more to either side.
_MOSTLY, _CELL_MM, _AROUND_CELLS, _LEAST_MM = 0.6, 20.0, 2, 16.0
#: So does all of a stretch of which this part does.
_RUN_AMONG = 0.4
#: Of what is between, lines of which this part is there are so long, if they stand and if not.
_INSIDE, _STANDS_MM, _LIES_MM = 0.7, 30.0, 60.0
#: A stretch is so long at least, and bends if it is as long as the second.
_SHORTEST_MM, _BENDS_MM = 30.0, 80.0
#: No place is moved further; what is off by less than the first counts most.
_USUAL_MM, _MOST_MM = 0.8, 2.5
#: How often places are weighed anew, and how much of a stretch lies within that of its fit.
_REWEIGHED, _FITS = 4, 0.9
#: Lines go over to what is not moved in so many mm.
_OVER_MM = 8.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Standing:
    """Lines whose steep stretches among other steep ones are fair.

    Attributes:
        lines: In mm of the picture.
        fair: Their places that are on a fit.
        between: Lines that are scraps between what stands.
    """

    lines: Polylines
    fair: Flags
    between: Flags


def standing(lines: Polylines, may: Flags) -> Standing:
    """Lines as they stand.

    Args:
        lines: In mm of the picture.
        may: Lines that may be of a trunk; those of a figure are none.
    """
    fair, none = np.zeros(len(lines.places), np.bool_), np.zeros(len(lines.closed), np.bool_)
    if not may.any():
        return Standing(lines=lines, fair=fair, between=none)
    steep = np.abs(courses(lines, _COURSE_MM)[:, 0]) < _STEEP
    among = _among(lines, steep) & may[lines.owner]
    places, along, first = lines.places.copy(), lines.along_mm, lines.first
    for begin, end in _runs(steep, lines.owner):
        if among[begin:end].mean() < _RUN_AMONG:
            continue
        owner = int(lines.owner[begin])
        ends = (begin == first[owner], end == first[owner + 1])
        for one, two, fit in _fitted(places[begin:end], along[begin:end]):
            part = slice(begin + one, begin + two)
            free = (one == 0 and ends[0], two == end - begin and ends[1])
            places[part, 0] += _moves(places[part, 0], fit, along[part], free)
            fair[part] = True
    moved = Polylines(places=places, first=first, closed=lines.closed)
    return Standing(lines=moved, fair=fair, between=_scraps(lines, among, fair))


def _scraps(lines: Polylines, among: Flags, fair: Flags) -> Flags:
    """Short lines among what stands that do not stand, or stand alone."""
    counts = np.diff(lines.first)
    inside, stands = (np.bincount(lines.owner, each, len(counts)) for each in (among, fair))
    long = np.where(stands > counts / 2, _STANDS_MM, _LIES_MM)
    return np.asarray((inside > _INSIDE * counts) & (lines.lengths_mm < long) & ~lines.closed)


def _among(lines: Polylines, steep: Flags) -> Flags:
    """Places around which most of what is drawn is steep."""
    steps = np.diff(lines.along_mm, append=lines.along_mm[-1:])
    cell = np.maximum(lines.places / _CELL_MM, 0).astype(np.int64)
    size = tuple(cell.max(axis=0) + 1)
    at = cell[:, 0] * size[1] + cell[:, 1]

    def around(values: Floats) -> npt.NDArray[np.float32]:
        sums = np.bincount(at, values, size[0] * size[1]).astype(np.float32).reshape(size)
        return box_mean(box_mean(sums, _AROUND_CELLS), _AROUND_CELLS)

    much = around(steps * steep)
    found = (much > np.float32(_MOSTLY) * around(steps)) & (much > np.float32(_LEAST_MM))
    return np.asarray(found.ravel()[at])


def _runs(which: Flags, owner: Ints) -> list[tuple[int, int]]:
    """First places of runs of one line, and the places after their last ones."""
    new = np.diff(owner, prepend=-1) != 0
    change = np.flatnonzero(new | np.diff(which, prepend=False))
    after = np.append(change[1:], len(which))
    return [(int(a), int(b)) for a, b in zip(change, after, strict=True) if which[a]]


def _fitted(places: Floats, along: Floats) -> list[tuple[int, int, Floats]]:
    """Parts of a run with where they are across on their fits."""
    found, open_parts = list[tuple[int, int, Floats]](), [(0, len(along))]
    while open_parts:
        begin, end = open_parts.pop()
        long = along[end - 1] - along[begin]
        if long < _SHORTEST_MM:
            continue
        x, t = places[begin:end, 0], (along[begin:end] - along[begin]) / long
        fit = _fit(x, t, 2 if long > _BENDS_MM else 1)
        off = np.abs(x - fit)
        if (off < _MOST_MM).mean() > _FITS:
            found.append((begin, end, fit))
            continue
        at = begin + int(off.argmax())
        # What is furthest off at an end has another course there.
        step = max((end - begin) // 8, 1)
        at = min(max(at, begin + step), end - step)
        open_parts += [(begin, at), (at, end)]
    return found


def _fit(x: Floats, t: Floats, degree: int) -> Floats:
    """Where a polynomial of t that fits most places is across (Cauchy's weights)."""
    powers = t[:, None] ** np.arange(degree + 1)
    weight = np.ones(len(t))
    fit = x
    for _ in range(_REWEIGHED):
        weighed = powers * weight[:, None]
        fit = powers @ np.linalg.lstsq(weighed.T @ powers, weighed.T @ x, rcond=None)[0]
        weight = 1 / (1 + ((x - fit) / _USUAL_MM) ** 2)
    return np.asarray(fit)


def _moves(x: Floats, fit: Floats, along: Floats, free: tuple[bool, bool]) -> Floats:
    """How far places move across: to their fit, less and less where the line goes on."""
    move = np.clip(fit - x, -_MOST_MM, _MOST_MM)
    for end, far in zip(free, (along - along[0], along[-1] - along), strict=True):
        if not end:
            share = np.minimum(far / _OVER_MM, 1)
            move *= share * share * (3 - 2 * share)
    return np.asarray(move)
