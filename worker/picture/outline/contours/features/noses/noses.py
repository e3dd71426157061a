"""Noses, each by the line around its wings and below its tip, along nostrils.

A draughtsman draws a nose by tip, wings and nostrils, as its bridge is no contour (common
practice). Below a tip it is darker than on it and on the lip, from one wing to the other; a wing
is dark or has an edge against the cheek. Both are sought beside their landmarks, and drawn where
they are seen. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.courses import best_run, course, displaced, seen_along
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import NOSE, WING_PLACES
from worker.picture.outline.contours.features.strips import (
    Strip,
    moved,
    smooth_curve,
    strip,
    valley,
)
from worker.picture.outline.points.gaussian import Floats

#: Places along it; how far it may be from its landmarks, in sides; what a bend costs; and waves of
#: so many places are smoothed.
_PLACES, _REACH, _BENDS, _FAIR = 80, 0.022, 0.25, 10.0
#: Levels that it is darker than so many rows above and below, and of an edge over so many;
#: it counts so much at most.
_DARKER, _BESIDE, _EDGE, _RISES, _MOST = 12.0, (4, 6), 25.0, 2, 4.0
#: It is seen where it has so much of these; and no less of its length than this is drawn.
_SEEN, _LEAST_LONG = 0.2, 0.25


def nose(part: FacePart) -> Doubles | None:
    """What is seen of the line, in pixels of the face's part: (places, 2)."""
    marks = part.along(NOSE)
    beside, seen = _seen(part, marks + displaced([_seen(part, marks)]))
    rows = course(seen - beside.usual, of_row=_BENDS, length=_FAIR)
    first, last = best_run(seen_along(seen, rows) - _SEEN)
    return beside.places(rows)[first:last] if last - first > _LEAST_LONG * len(rows) else None


def _seen(part: FacePart, marks: Doubles) -> tuple[Strip, Floats]:
    """How well a line would lie beside landmarks: dark, or along wings an edge as well."""
    curve = smooth_curve(marks, _PLACES)
    beside = strip(part, curve, _REACH)
    light = beside.of(part.grey) / part.tone
    dark = np.maximum.reduce([valley(light, far) for far in _BESIDE]) / np.float32(_DARKER)
    edge = np.abs(moved(light, _RISES) - moved(light, -_RISES)) / np.float32(_EDGE)
    wing = np.minimum(np.arange(len(curve)), np.arange(len(curve))[::-1]) < WING_PLACES * len(curve)
    either = np.where(wing, np.maximum(dark, 0) + edge, dark)
    return beside, np.asarray(np.clip(either, -0.5, _MOST), np.float32)
