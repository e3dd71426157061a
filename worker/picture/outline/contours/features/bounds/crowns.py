"""Where hair ends against what is behind a head, over its top.

Hair ends in single hairs, and the reading has its outline in pieces where what is behind is as
light. A draughtsman draws it in one (common practice). Of all courses around a head that bend
slowly it is the one that the reading has most of. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.courses import course, seen_along
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import CHIN, LEFT, RIGHT, TOP
from worker.picture.outline.contours.features.strips import strip
from worker.picture.outline.contours.placed_reading import PlacedReading

#: Places along it; how far it is from between the ears at least and at most, and how finely it is
#: looked for, in sides.
_PLACES, _NEAR, _FAR, _STEP = 160, 0.4, 1.2, 0.012
#: What is read as no outer contour counts so much of one; what is further from the head by a side
#: counts so much more: of two lines the outer one is the outline.
_INNER, _OUTWARDS = 0.3, 0.1
#: Lower than this, in sines, others' heads and shoulders may be beside it: it is not known there.
_OVER = 0.5
#: What a bend costs; waves of so many places are smoothed; and it is seen over so many.
_BENDS, _FAIR, _MEAN = 0.12, 8.0, 5


def crown(part: FacePart, placed: PlacedReading) -> Bound:
    """The best course of a head's upper bound."""
    ears, (top, chin) = part.along((LEFT, RIGHT)), part.along((TOP, CHIN))
    up = (top - chin) / np.hypot(*(top - chin))
    aside = np.array([-up[1], up[0]])
    turns = np.linspace(np.pi, 0, _PLACES)
    ring = np.outer(np.cos(turns), aside) + np.outer(np.sin(turns), up)
    curve = ears.mean(axis=0) + (_NEAR + _FAR) / 2 * part.side * ring
    beside = strip(part, curve, (_FAR - _NEAR) / 2, _STEP)
    x, y = np.moveaxis(part.on_grid(beside.grid()), -1, 0).astype(np.float32)
    values_of = placed.at(x.ravel(), y.ravel())
    read, outer = (values_of(one).reshape(x.shape) for one in ("contour", "outer"))
    seen = read * (_INNER + (1 - _INNER) * outer)
    worth = seen - _OUTWARDS * beside.far[:, None]
    rows = course(worth, of_row=_BENDS, length=_FAIR)
    clear = seen_along(seen, rows, _MEAN)
    clear[np.sin(turns) < _OVER] = 0
    return Bound(
        line=part.on_grid(beside.places(rows)),
        seen=clear,
        side=part.side_on_grid,
    )
