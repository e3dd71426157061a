"""Eyes: both lids, the fold above them, and the iris between them.

The upper lid is where skin turns to dark lashes, the lower one where white or iris turns to
skin; both are sought beside their landmarks, from corner to corner; a corner is where the dark
line of lashes ends. They are used for lines and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.courses import (
    best_run,
    course,
    dark_ends,
    displaced,
    seen_along,
)
from worker.picture.outline.contours.features.eyes.irises import Iris, Opening, iris_in, pupil_in
from worker.picture.outline.contours.features.face_part import FacePart
from worker.picture.outline.contours.features.landmarks import (
    IRISES,
    LOWER_LIDS,
    UPPER_LIDS,
)
from worker.picture.outline.contours.features.strips import (
    ACROSS,
    Strip,
    moved,
    smooth_curve,
    strip,
)
from worker.picture.outline.points.gaussian import Floats

_Sights = Callable[[Floats], Floats]

#: Places along lids; how far these may be from their landmarks, in sides; what it costs to bend;
#: and waves of so many places are smoothed.
_PLACES, _REACH, _BENDS, _FAIR = 48, 0.018, 0.15, 16.0
#: Grey counts in parts of its usual range, at least so many levels.
_RANGE, _LEAST_RANGE = (10, 90), 20.0
#: Skin is so many rows above lashes; an edge is seen over so many on either side.
_LASHES, _RIM = 3, 2
#: Corners are within so many places of landmarks' where it is so many levels darker.
_CORNERS, _CORNER_DARKER = 5, 8.0
#: A fold is so far above the lid, in sides; it is dark beside so many rows above and below, by so
#: much, in parts of the range, along so much of the lid; and what it costs to bend.
_FOLD, _FOLD_BESIDE, _FOLD_DARKER, _FOLD_LONG, _FOLD_BENDS = (0.009, 0.036), 4, 0.06, 0.5, 1.0
#: A pupil is as large as the other one, in its radii up to this. One that is not seen is taken to
#: be so large, in radii of the iris: 4.2 mm of 11.7, as by daylight indoors (Winn and others,
#: "Factors affecting light-adapted pupil size", 1994; from memory).
_ALIKE, _USUAL_PUPIL = 1.6, 0.36
#: An eye narrower than this, in sides, is seen from aside.
_NARROWEST = 0.09
#: Levels that the fainter and the clearer iris of a face are darker than what is beside them.
_LEAST_STEP, _OTHER_STEP = 12.0, 20.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Eye(Opening):
    """One of them, in pixels of the face's part.

    Attributes:
        fold: Above the upper lid, (places, 2), or none.
        iris: Between the lids.
    """

    fold: Doubles | None
    iris: Iris


def eyes(part: FacePart) -> tuple[Eye, ...]:
    """Both of a face, or none where they are not seen clearly, as behind dark glasses."""
    both = _looking_alike([_eye(part, number) for number in (0, 1)])
    steps = [one.iris.step for one in both]
    if min(steps) < _LEAST_STEP or max(steps) < _OTHER_STEP:
        return ()
    wide = [float(np.hypot(*(one.upper[-1] - one.upper[0]))) for one in both]
    return _with_pupils(part, both) if min(wide) > _NARROWEST * part.side else ()


def _eye(part: FacePart, number: int) -> Eye:
    above, below = (part.along(one[number]) for one in (UPPER_LIDS, LOWER_LIDS))
    off = displaced((_seen(part, above, _lashes), _seen(part, below, _rim)))
    above, below = above + off, below + off
    corners = dark_ends(part, smooth_curve(above, _PLACES), _CORNERS, _CORNER_DARKER)
    above[[0, -1]] = below[[0, -1]] = corners
    opening = Opening(upper=_lid(part, above, _lashes), lower=_lid(part, below, _rim))
    return Eye(
        upper=opening.upper,
        lower=opening.lower,
        fold=_fold(part, opening.upper),
        iris=iris_in(part, opening, part.along(IRISES[number])),
    )


def _looking_alike(both: list[Eye]) -> list[Eye]:
    """The same with irises as high between the corners of either eye and as large.

    Eyes turn up and down together. Each iris counts by how clear it is.
    """
    clear = np.array([max(one.iris.step, 1.0) for one in both])
    frames = [_level(one) for one in both]
    pairs = zip(both, frames, strict=True)
    down = [float((one.iris.middle - at) @ way) for one, (at, way) in pairs]
    sizes = [one.iris.radius for one in both]
    mean, radius = (float(np.average(each, weights=clear)) for each in (down, sizes))
    return [
        replace(
            one,
            iris=replace(one.iris, middle=one.iris.middle + (mean - off) * way, radius=radius),
        )
        for one, off, (_, way) in zip(both, down, frames, strict=True)
    ]


def _level(eye: Eye) -> tuple[Doubles, Doubles]:
    """A corner of an eye, and the way down across the line between both."""
    across = eye.upper[-1] - eye.upper[0]
    x, y = across / np.hypot(*across)
    return eye.upper[0], np.array([-y, x])


def _with_pupils(part: FacePart, both: list[Eye]) -> tuple[Eye, ...]:
    """The same, with pupils: those that are seen in both and as large, or as they are as a rule.

    In a dark iris none is seen apart, and without one an eye looks nowhere (common practice).
    """
    shares = [pupil_in(part, one, one.iris) / one.iris.radius for one in both]
    alike = 0 < max(shares) < _ALIKE * min(shares)
    mean = float(np.mean(shares)) if alike else _USUAL_PUPIL
    return tuple(replace(one, iris=replace(one.iris, pupil=mean * one.iris.radius)) for one in both)


def _lid(part: FacePart, marks: Doubles, sights: _Sights) -> Doubles:
    """The course of a lid from corner to corner."""
    beside, seen = _seen(part, marks, sights)
    rows = course(seen - beside.usual, of_row=_BENDS, length=_FAIR, held=True)
    return beside.places(rows)


def _seen(part: FacePart, marks: Doubles, sights: _Sights) -> tuple[Strip, Floats]:
    """What is seen of a lid beside its landmarks."""
    beside = strip(part, smooth_curve(marks, _PLACES), _REACH)
    return beside, sights(_in_range(beside))


def _in_range(beside: Strip) -> Floats:
    """Grey in parts of its usual range."""
    light = beside.of(beside.part.grey)
    low, high = np.percentile(light, _RANGE)
    return np.asarray(light / np.float32(max(high - low, _LEAST_RANGE)))


def _lashes(light: Floats) -> Floats:
    return np.asarray(np.clip(moved(light, -_LASHES) - light, -0.3, 0.8), np.float32)


def _rim(light: Floats) -> Floats:
    edge = np.abs(moved(light, -_RIM) - moved(light, _RIM))
    return np.asarray(np.minimum(edge, 0.6) / 2, np.float32)


def _fold(part: FacePart, upper: Doubles) -> Doubles | None:
    """A dark line above lashes, where one is seen along most of the lid."""
    beside = strip(part, upper, _FOLD[1] + _FOLD_BESIDE * ACROSS)
    light = _in_range(beside)
    dark = (moved(light, -_FOLD_BESIDE) + moved(light, _FOLD_BESIDE)) / 2 - light
    off = (beside.far > -_FOLD[0]) | (beside.far < -_FOLD[1])
    worth = np.clip(dark / _FOLD_DARKER, -1, 3) - 8.0 * off[:, None]
    rows = course(worth, of_row=_FOLD_BENDS, length=_FAIR)
    # However dark a part is, it makes up for no more than as long a part that is light.
    first, last = best_run(np.minimum(seen_along(dark, rows) - _FOLD_DARKER, _FOLD_DARKER))
    return beside.places(rows)[first:last] if last - first > _FOLD_LONG * len(upper) else None
