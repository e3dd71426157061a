"""Noses, each by the line around its wings and below its tip, along nostrils.

A draughtsman draws a nose by tip, wings and nostrils, as its bridge is no contour (common
practice). Below a tip it is darker than on it and on the lip, from one wing to the other; a wing
is dark or has an edge against the cheek. Both are sought beside their landmarks, and drawn where
they are seen. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.landmarks import NOSE, WING_PLACES
from worker.picture.outline.contours.features.strips import (
    FacePart,
    course,
    best_run,
    moved,
    seen_along,
    smooth_curve,
    strip,
    valley,
)

#: Places along it, in sides; how far it may be from its landmarks, how far it is as a rule, and how
#: much it counts; what a bend costs; and waves of so many places are smoothed.
_ALONG, _REACH, _USUAL, _USUAL_COUNTS, _BENDS, _FAIR = 0.004, 0.022, 0.012, 0.2, 0.25, 10.0
#: Levels that it is darker than so many rows above and below, and of an edge over so many.
_DARKER, _BESIDE, _EDGE, _RISES = 12.0, (4, 6), 25.0, 2
#: It is seen where it has so much of these; and no less of its length than this is drawn.
_SEEN, _LEAST_LONG = 0.2, 0.25


def nose(part: FacePart) -> Doubles | None:
    """What is seen of the line, in pixels of the face's part: (places, 2)."""
    curve = smooth_curve(part.along(NOSE), part.side, along=_ALONG)
    beside = strip(part, curve, _REACH)
    light = beside.of(part.grey) / part.tone
    dark = np.maximum.reduce([valley(light, far) for far in _BESIDE])
    edge = np.abs(moved(light, _RISES) - moved(light, -_RISES)) / _EDGE
    seen = np.clip(dark / _DARKER, -0.5, 1.5)
    # Along wings an edge counts as well.
    wing = np.minimum(np.arange(len(curve)), np.arange(len(curve))[::-1]) < WING_PLACES * len(curve)
    seen = np.where(wing, np.clip(np.maximum(seen, 0) + edge, 0, 1.5), seen).astype(np.float32)
    worth = seen - _USUAL_COUNTS * (beside.far / _USUAL)[:, None] ** 2
    rows = course(worth, of_row=_BENDS, length=_FAIR)
    first, last = best_run(seen_along(seen, rows) - _SEEN)
    return beside.places(rows)[first:last] if last - first > _LEAST_LONG * len(curve) else None
