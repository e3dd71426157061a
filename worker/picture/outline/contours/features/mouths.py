"""Mouths: outer edges of both lips, and the line where they part or the edges of what is between.

Lips differ from skin in hue more than in tone: red counts more beside green in them. Between them
it is dark, or there are teeth, which are lighter and less red. Each curve is sought beside its
landmarks, from corner to corner; corners are where the dark line between lips ends. It is used
for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.courses import (
    course,
    dark_ends,
    displaced,
    seen_along,
)
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import (
    INNER_LOWER,
    INNER_UPPER,
    OUTER_LOWER,
    OUTER_UPPER,
)
from worker.picture.outline.contours.features.strips import (
    Strip,
    moved,
    smooth_curve,
    strip,
    valley,
)
from worker.picture.outline.points.gaussian import Floats

#: Places along curves; how far these may be from their landmarks, in sides; what a bend costs; and
#: waves of so many places are smoothed.
_PLACES, _REACH, _BENDS, _FAIR = 56, 0.021, 0.25, 8.0
#: Levels of an edge that is plain, and of a valley; red of such an edge; how much counts what
#: tells more of red and tone (for lips red, between them tone), and what tells less.
_EDGE, _VALLEY, _RED_EDGE, _TELLS, _TELLS_LESS = 30.0, 15.0, 0.035, 0.65, 0.35
#: Edges are seen over so many rows on either side, and what lies beside a valley so far away.
_RISES, _BESIDE = 2, 3
#: Corners are within so many places of landmarks' where it is so many levels darker.
_CORNERS, _CORNER_DARKER = 4, 6.0
#: Lips are open where landmarks are so far apart in the middle, and edges then still are.
_OPEN = 0.012
#: How clear lips' outer edges are on the mean, at least: both of a mouth, and one that is drawn.
_LEAST_SEEN, LEAST_DRAWN = 0.2, 0.25


@dataclass(frozen=True, kw_only=True, eq=False)
class Mouth:
    """One of them, in pixels of the face's part, (places, 2) each from corner to corner.

    Attributes:
        outer: The edges of the upper and the lower lip.
        inner: The line where lips part; or the upper and lower edge of what is between them.
        seen: How clear either outer edge is.
    """

    outer: tuple[Doubles, Doubles]
    inner: tuple[Doubles, ...]
    seen: tuple[float, float]


def mouth(part: FacePart) -> Mouth | None:
    """That of a face, if it is seen clearly, in colour alone."""
    if not part.coloured:
        return None
    marks = [part.along(one) for one in (OUTER_UPPER, OUTER_LOWER, INNER_UPPER, INNER_LOWER)]
    moved_by = displaced([_seen(part, marks[0], 1), _seen(part, marks[1], -1)])
    *marks, over, under = (one + moved_by for one in marks)
    corners = dark_ends(part, smooth_curve((over + under) / 2, _PLACES), _CORNERS, _CORNER_DARKER)
    for one in (*marks, over, under):
        one[[0, -1]] = corners
    outer = [_edge(part, one, sign) for one, sign in zip(marks, (1, -1), strict=True)]
    seen = outer[0][1], outer[1][1]
    if sum(seen) / 2 < _LEAST_SEEN:
        return None
    middle = slice(4, 7)
    if np.hypot(*(over - under)[middle].T).mean() < _OPEN * part.side:
        inner = [_parting(part, (over + under) / 2)]
    else:
        inner = [_edge(part, one, sign, inside=True)[0] for one, sign in ((over, -1), (under, 1))]
    return Mouth(outer=(outer[0][0], outer[1][0]), inner=tuple(inner), seen=seen)


def _parting(part: FacePart, marks: Doubles) -> Doubles:
    beside = strip(part, smooth_curve(marks, _PLACES), _REACH)
    seen = np.clip(valley(beside.of(part.grey), _BESIDE) / (_VALLEY * part.tone), -1, 2)
    rows = course(seen - beside.usual, of_row=_BENDS, length=_FAIR, held=True)
    return beside.places(rows)


def _edge(
    part: FacePart, marks: Doubles, sign: int, *, inside: bool = False
) -> tuple[Doubles, float]:
    """The course of one edge, and how clear it is."""
    beside, seen = _seen(part, marks, sign, inside=inside)
    rows = course(seen - beside.usual, of_row=_BENDS, length=_FAIR, held=True)
    return beside.places(rows), float(seen_along(seen, rows).mean())


def _seen(
    part: FacePart, marks: Doubles, sign: int, *, inside: bool = False
) -> tuple[Strip, Floats]:
    """What is seen of one edge.

    Args:
        part: Of the face.
        marks: Its landmarks.
        sign: 1 if it is redder below it.
        inside: Whether it is one of what lies between lips, which is lighter or darker.
    """
    beside = strip(part, smooth_curve(marks, _PLACES), _REACH)
    light, red = (_rise(beside.of(values)) for values in (part.grey, part.red))
    tone, reds = light / (_EDGE * part.tone), sign * red / _RED_EDGE
    if inside:
        worth = _TELLS * np.abs(tone) + _TELLS_LESS * reds
    elif sign > 0:
        worth = _TELLS * reds - _TELLS_LESS * tone
    else:
        worth = _TELLS * reds + _TELLS_LESS / 2 * np.abs(tone)
    return beside, np.asarray(np.clip(worth, -1, 2), np.float32)


def _rise(values: Floats) -> Floats:
    return moved(values, _RISES) - moved(values, -_RISES)
