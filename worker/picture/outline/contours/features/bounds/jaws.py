"""Jaws from ear to ear by the chin, for where no line that was found bounds a face.

Landmarks say roughly where a face ends below; the picture and the reading say where exactly, and
whether anything is seen there. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.courses import course, seen_along
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import JAW
from worker.picture.outline.contours.features.strips import moved, smooth_curve, strip
from worker.picture.outline.contours.placed_reading import PlacedReading

#: Places along it; how finely it is looked for, and how far from its landmarks, in sides; how far
#: it is as a rule, and how much it counts; what a bend costs; and waves of so many places are
#: smoothed.
_PLACES, _STEP, _REACH, _USUAL, _USUAL_COUNTS = 160, 0.005, 0.05, 0.025, 0.15
_BENDS, _FAIR = 0.25, 8.0
#: Levels of a plain edge, over so many rows; it counts so much, and what is read so much.
_EDGE, _RISES, _BY_EDGE, _BY_READING = 25.0, 1, 0.4, 0.9
#: It is seen over so many places.
_MEAN = 7


def jaw(part: FacePart, placed: PlacedReading) -> Bound:
    """The best course of a face's lower bound."""
    curve = smooth_curve(part.along(JAW), _PLACES)
    beside = strip(part, curve, _REACH, _STEP)
    x, y = np.moveaxis(part.on_grid(beside.grid()), -1, 0).astype(np.float32)
    read = placed.sampled("contour", x.ravel(), y.ravel()).reshape(x.shape)
    light = beside.of(part.grey) / part.tone
    edge = np.abs(moved(light, _RISES) - moved(light, -_RISES)) / _EDGE
    seen = _BY_EDGE * np.minimum(edge, 1) + _BY_READING * read
    worth = seen - _USUAL_COUNTS * (beside.far / _USUAL)[:, None] ** 2
    rows = course(worth, of_row=_BENDS, length=_FAIR)
    return Bound(
        line=part.on_grid(beside.places(rows)),
        seen=seen_along(seen, rows, _MEAN),
        side=part.side_on_grid,
    )
