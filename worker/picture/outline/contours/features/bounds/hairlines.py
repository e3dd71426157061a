"""Where hair begins above a forehead, from temple to temple.

Hair ends in single hairs, and an edge follows it here and there. A draughtsman draws one line from
temple to temple (common practice). It is where skin, which is as the forehead is, ends for good
upwards; the reading says where in what is soft. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.courses import course, seen_along
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import FOREHEAD
from worker.picture.outline.contours.features.strips import smooth_curve, strip
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats, box_mean

#: Places along it; how finely it is looked for; and how far below landmarks and above, in sides.
_PLACES, _STEP, _BELOW, _ABOVE = 120, 0.008, 0.03, 0.2
#: A forehead is looked at so far below landmarks, in sides; what is usual between these shares of
#: the places, and how it is shaded over so many on either side.
_SKIN, _MIDDLE, _AROUND = 0.08, (0.2, 0.8), 8
#: Levels and red that skin differs by at most as a rule.
_TONES, _REDS = 28.0, 0.04
#: Rows on either side of a hairline; how much what is read counts; and what is no skin below it.
_BESIDE, _BY_READING, _NO_SKIN_BELOW = 4, 0.3, 0.12
#: What a bend costs; waves of so many places are smoothed; and it is seen over so many.
_BENDS, _FAIR, _MEAN = 0.2, 6.0, 7


def _usual(skin: Floats, most: np.float32 | float) -> Floats:
    """What skin is like along a forehead, by rows below it: in its middle, and how it is shaded."""
    inner = slice(*(int(share * _PLACES) for share in _MIDDLE))
    whole, along = np.median(skin[:, inner]), np.median(skin, axis=0)
    shaded = box_mean(along[None], _AROUND)[0]
    return np.asarray(np.clip(shaded, whole - most, whole + most))


def hairline(part: FacePart, placed: PlacedReading) -> Bound:
    """The best course of where hair begins."""
    marks = smooth_curve(part.along(FOREHEAD), _PLACES)
    way = np.gradient(marks, axis=0)
    down = np.stack((-way[:, 1], way[:, 0]), axis=1) / np.hypot(*way.T)[:, None]
    middle = marks + (_BELOW - _ABOVE) / 2 * part.side * down
    beside = strip(part, middle, (_BELOW + _ABOVE) / 2, _STEP)
    skin = strip(part, marks + _SKIN / 2 * part.side * down, _SKIN / 2, _STEP)
    light, red = beside.of(part.grey), beside.of(part.red)
    tone, hue = (
        _usual(skin.of(values), most)
        for values, most in ((part.grey, _TONES * part.tone), (part.red, _REDS))
    )
    other = np.abs(light - tone) / (_TONES * part.tone) + np.abs(red - hue) / _REDS
    other = np.clip(other - 1, 0, 1)
    x, y = np.moveaxis(part.on_grid(beside.grid()), -1, 0).astype(np.float32)
    read = placed.sampled("contour", x.ravel(), y.ravel()).reshape(x.shape)
    sums = np.cumsum(np.pad(other, ((_BESIDE, _BESIDE), (0, 0)), mode="edge"), axis=0)
    here = sums[_BESIDE:-_BESIDE]
    more = 2 * here - sums[: -2 * _BESIDE] - sums[2 * _BESIDE :]
    seen = more / _BESIDE + _BY_READING * read
    worth = seen - _NO_SKIN_BELOW * (here[-1] - here)
    rows = course(worth, of_row=_BENDS, length=_FAIR)
    return Bound(
        line=part.on_grid(beside.places(rows)),
        seen=seen_along(seen, rows, _MEAN),
        side=part.side_on_grid,
    )
