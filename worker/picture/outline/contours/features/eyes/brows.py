"""Brows, each as one closed shape.

A brow is linked hair by hair, or runs on into the socket's shadow; a draughtsman draws its outline
(common practice). It is the band along its landmarks that is darker than the skin above and below
it: of all bands whose upper and lower edge change slowly, the one that is darkest on the whole is
found exactly, with its ends (dynamic programming). It is used for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import (
    Band,
    Bending,
    Doubles,
    best_band,
    centred,
    fair,
)
from worker.picture.outline.contours.features.courses import best_run, course, seen_along
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import (
    LOWER_BROWS,
    UPPER_BROWS,
    UPPER_LIDS,
)
from worker.picture.outline.contours.features.strips import (
    Strip,
    extended,
    moved,
    smooth_curve,
    strip,
)
from worker.picture.outline.points.gaussian import Floats

Flags = npt.NDArray[np.bool_]

#: Places along landmarks, and beyond their inner and outer end; how finely it is looked for across,
#: how far from landmarks, and how near to the eye, in sides.
_PLACES, _INNER, _OUTER, _STEP, _REACH, _FROM_EYE = 44, 3, 12, 0.005, 0.055, 0.009
#: How thick one may be, in samples; skin is looked at so far beyond its edges.
_THIN, _THICK, _BESIDE = 1, 12, 3
#: Levels that a band is darker than the skin on either side, at least; it counts no more than so
#: much darker.
_LEAST_DARKER, _MOST_DARKER = 8.0, 60.0
#: One that hangs over the lid has skin above it alone, which tells so much less; and it is lower
#: than its landmarks: so far from them it is looked for.
_OVERHANGING, _REACH_OVERHANGING = 0.5, 0.08
#: Lighter than so many times what is usual above an eye is no skin, if it is so much less red.
_LIGHTER, _UNRED = 1.1, 0.06
#: How much counts that an edge goes a sample up or down, or that the band grows or shrinks by one.
_BENDS, _WIDENS = 4.0, 3.0
#: As long is a brow at least, in sides; and so many levels darker than that on the mean.
_LEAST_LONG, _LEAST_WORTH = 0.13, 4.0
#: It ends where it is less than so much as dark as it is as a rule.
_FADED = 0.3
#: An edge is where it rises most so many samples around; waves of so many samples are smoothed.
_STEEPEST, _FAIR = 2, 14.0
#: Its inner end is round over so much of its thickness; its tail, of so much of its length, runs
#: out to a point.
_ROUND, _TAIL = 0.4, 0.22
#: In a socket's shade a brow has an upper edge alone: so many levels over so many samples up and
#: down; it counts so much at most, and is seen from the last on; what a bend costs.
_EDGE, _RISES, _MOST, _SEEN, _EDGE_BENDS = 30.0, 2, 1.5, 0.45, 0.3
#: As long is such an edge at least, in sides: hair hides more than half of some.
_LEAST_EDGE = 0.1


@dataclass(frozen=True, kw_only=True, eq=False)
class Brow:
    """One of them, in pixels of the face's part.

    Attributes:
        upper, lower: Its edges, both from its inner end: (places, 2).
        overhanging: Whether no light skin is between it and the lid, at least in part.
    """

    upper: Doubles
    lower: Doubles
    overhanging: bool = False

    @property
    def outline(self) -> Doubles:
        """Closed."""
        return np.concatenate((self.upper, self.lower[-2::-1], self.upper[:1]))

    @property
    def middle(self) -> Doubles:
        """The line in its middle."""
        return np.asarray((self.upper + self.lower) / 2)


def brows(part: FacePart, *, eyes: bool = False) -> tuple[Brow, ...]:
    """Those that are seen clearly.

    Args:
        part: Of the face.
        eyes: Whether its eyes are seen, so that what hangs over them is a brow.
    """
    found = [_brow(part, eye) or (_over_shade(part, eye) if eyes else None) for eye in (0, 1)]
    return tuple(one for one in found if one is not None)


def _over_shade(part: FacePart, eye: int) -> Brow | None:
    """That above an eye where it is dark below the brow as well."""
    return _brow(part, eye, overhanging=True) or _upper_edge(part, eye)


def _upper_edge(part: FacePart, eye: int) -> Brow | None:
    """The upper edge of a brow that goes on in the shade of the socket, if it is seen clearly."""
    curve = smooth_curve(part.along(UPPER_BROWS[eye]), _PLACES)
    beside = strip(part, curve, _REACH, _STEP)
    light = beside.of(part.grey) / (_EDGE * part.tone)
    seen = np.clip(moved(light, -_RISES) - moved(light, _RISES), -1, np.float32(_MOST))
    rows = course(seen - beside.usual, of_row=_EDGE_BENDS, length=_FAIR)
    first, last = best_run(seen_along(seen, rows) - _SEEN)
    edge = beside.places(rows)[first:last][:: 1 if eye else -1]
    if np.hypot(*np.diff(edge, axis=0).T).sum() < _LEAST_EDGE * part.side:
        return None
    return Brow(upper=edge, lower=edge, overhanging=True)


def _brow(part: FacePart, eye: int, *, overhanging: bool = False) -> Brow | None:
    """That above one eye, if it is seen clearly."""
    beside = _strip(part, eye, _REACH_OVERHANGING if overhanging else _REACH)
    light = beside.of(part.grey)
    no_skin = _no_skin(beside, light, eye)
    darker = _darker(light, no_skin, _OVERHANGING if overhanging else 0.0)
    band = _clear_band(darker)
    along = float(np.hypot(*np.diff(beside.curve, axis=0).T).mean()) / part.side
    if band is None or len(band.columns) * along < _LEAST_LONG:
        return None
    at, first = band.columns, band.first
    rises, last = np.diff(light, axis=0), first + band.kind + _THIN - 1
    # At its ends a brow fades, and its edges go on as they were.
    clear = np.clip(darker[first, at, band.kind] / _MOST_DARKER, 0.01, 1).astype(np.float64) ** 2
    edges = [
        centred(edge, at, rows, _STEEPEST) + 0.5
        for edge, rows in ((-rises, first - 1), (rises, last))
    ]
    upper, lower = fair(np.stack(edges), _FAIR, clear)
    half = np.maximum(lower - upper, 0) / 2
    half = half * _left_over(len(at), _ROUND * 2 * float(half.max()) * _STEP / along)
    middle = (lower + upper) / 2
    return Brow(
        upper=beside.places(middle - half, at),
        lower=beside.places(middle + half, at),
        overhanging=overhanging,
    )


def _clear_band(darker: Floats) -> Band | None:
    """The band that is darkest on the whole, but where it fades."""
    worth = np.minimum(darker, np.float32(_MOST_DARKER)) - np.float32(_LEAST_DARKER)
    band = best_band(worth, Bending(of_row=_BENDS, of_kind=_WIDENS))
    if band.worth < _LEAST_WORTH * len(band.columns):
        return None
    dark = darker[band.first, band.columns, band.kind]
    clear = np.flatnonzero(dark > _FADED * np.median(dark))
    return band.taken(slice(clear[0], clear[-1] + 1))


def _strip(part: FacePart, eye: int, reach: float) -> Strip:
    """Along landmarks and beyond, from the inner end outwards."""
    marks = [part.along(edges[eye]) for edges in (UPPER_BROWS, LOWER_BROWS)]
    curve = smooth_curve((marks[0] + marks[1]) / 2, _PLACES)
    ends = (_OUTER, _INNER) if eye == 0 else (_INNER, _OUTER)
    beside = strip(part, extended(curve, *ends), reach, _STEP)
    return beside if eye else beside.reversed()


def _no_skin(beside: Strip, light: Floats, eye: int) -> Flags:
    """Where the eye is or what is below it, or what is behind the face: (rows, columns)."""
    part = beside.part
    lid = smooth_curve(part.along(UPPER_LIDS[eye]), _PLACES)
    x, y = np.moveaxis(beside.grid(), -1, 0)[..., None]
    square_off = (x - lid[:, 0]) ** 2 + (y - lid[:, 1]) ** 2
    near = square_off.min(axis=2) < (_FROM_EYE * part.side) ** 2
    inner = slice(len(beside.curve) // 2)
    behind = light > np.float32(_LIGHTER * np.median(light[:, inner]))
    if part.coloured:
        red = beside.of(part.red)
        behind &= red < np.median(red[:, inner]) - np.float32(_UNRED)
    return np.asarray(np.maximum.accumulate(near, axis=0) | behind)


def _left_over(count: int, rounded: float) -> Doubles:
    """What is left of its thickness: round at the inner end, running out at the outer."""
    off = np.arange(count)
    inner = np.minimum(off / max(rounded, 1.0), 1)
    tail = np.minimum((count - 1 - off) / (_TAIL * count), 1)
    return np.asarray(np.sqrt(1 - (1 - inner) ** 2) * np.sin(np.pi / 2 * tail))


def _darker(light: Floats, no_skin: Flags, overhanging: float) -> Floats:
    """How much darker a column's band is than what lies above and below it.

    Args:
        light: (rows, columns) of a strip.
        no_skin: Where there is none.
        overhanging: How far the skin above alone counts, where there is none below.

    Returns:
        In levels, (first rows, columns, numbers of rows from `_THIN` on); bands that are cut, or
        have no skin beside them, are as light as can be.
    """
    rows, columns = light.shape
    sums, blocked = (
        np.concatenate((np.zeros((1, columns), np.float32), np.cumsum(one, axis=0)))
        for one in (light, no_skin)
    )
    found = np.full((rows, columns, _THICK - _THIN + 1), -255, np.float32)
    for number, thick in enumerate(range(_THIN, _THICK + 1)):
        first = np.arange(_BESIDE, rows - thick - _BESIDE + 1)
        last = first + thick
        inside = (sums[last] - sums[first]) / thick
        above = (sums[first] - sums[first - _BESIDE]) / _BESIDE
        under = (sums[last + _BESIDE] - sums[last]) / _BESIDE
        skin, seen = (blocked[end] == blocked[first - _BESIDE] for end in (last + _BESIDE, last))
        both, one = np.minimum(above, under) - inside, overhanging * (above - inside)
        found[first, :, number] = np.where(skin, both, np.where(seen, one, -255))
    return found
