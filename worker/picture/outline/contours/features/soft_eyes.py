"""Eyes in shadow or with pale irises, of which no circle is seen clearly.

An iris that is hardly darker than what is beside it has no circle that stands out alone, and what
is linked there is a scribble. But a face tells how large its irises are, and both lie at much the
same place of their eyes; so the pair is sought together, of that size alone. It counts only where
lids lie around both: weak evidence of both together. It is used for lines and kept nowhere.
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.contours.features.face_frames import FaceFrame
from worker.picture.outline.contours.features.irises import (
    LEAST_MM,
    Doubles,
    Iris,
    sides_at,
)
from worker.picture.outline.contours.features.lid_shapes import Lids
from worker.picture.outline.contours.features.lids import fitted, fitted_alike
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.sampled_picture import Bytes, PixelGrid

#: Eyes are 63 mm apart (Dodgson, "Variation and extrema of human interpupillary distance", SPIE
#: 5291, 2004), an iris is 11.8 mm wide (common anatomy): its radius in parts of the one.
_RADIUS = 11.8 / 2 / 63
#: How far from an eye's place its iris may be, across and down, in parts of what eyes are apart;
#: how far both may differ in that; and how many places are tried each way.
_ACROSS, _DOWN, _ALIKE_ACROSS, _ALIKE_DOWN, _STEPS = 0.19, 0.14, 0.095, 0.075, 17
#: It is sought again so far from the middle between lids, in radii; and how far down that is.
_AGAIN_ACROSS, _AGAIN_DOWN, _AGAIN, _LOWER = 0.8, 0.4, 13, 0.55
#: An eye reaches so far to either side, in the same parts.
_EYE = 0.35
#: Levels that the fainter and the other iris are darker than beside them, at least; and how well
#: the worse and the other template of lids fit.
_LEAST_STEP, _OTHER_STEP, _LEAST_FIT, _OTHER_FIT = 18.0, 25.0, 0.7, 0.8
#: Where at first the darker one is so little so, as behind dark glasses, nothing is sought further.
_AT_FIRST = 15.0


def soft_eyes(
    placed: PlacedReading,
    frames: tuple[FaceFrame, ...],
    known: tuple[Iris, ...],
    grey: Bytes,
    grid: PixelGrid,
) -> tuple[Lids, ...]:
    """Lids around irises that are seen faintly, two of a face.

    Args:
        placed: The reading.
        frames: Of faces.
        known: Irises that were found; their faces have eyes.
        grey: The picture on its grid.
        grid: The grid.
    """
    found: list[Lids] = []
    for frame in frames:
        radius = _RADIUS * frame.apart * frame.side
        has = any(frame.has(iris.x, iris.y) for iris in known)
        if not has and radius * grid.pitch_mm >= LEAST_MM and _whole(frame, grey):
            found += _pair(placed, frame, grey)
    return tuple(found)


def _whole(frame: FaceFrame, grey: Bytes) -> bool:
    """Whether both eyes are wholly in the picture."""
    (rows, columns), half = grey.shape, frame.apart / 2
    x, y = frame.on_grid(np.array((-half, half)), np.zeros(2)).T
    far = _EYE * frame.apart * frame.side
    return bool(min(x.min(), y.min()) > far and x.max() < columns - far and y.max() < rows - far)


def _pair(placed: PlacedReading, frame: FaceFrame, grey: Bytes) -> list[Lids]:
    """Those of one face, if all is seen."""
    faint = _faint(frame, grey)
    if max(iris.step for iris in faint) < _AT_FIRST:
        return []
    first = [fitted(placed, grey, iris, frame.hand)[1] for iris in faint]
    irises = [_again(frame, lids, grey) for lids in first]
    steps = [iris.step for iris in irises]
    if min(steps) < _LEAST_STEP or max(steps) < _OTHER_STEP:
        return []
    fits, both = fitted_alike(placed, grey, irises, frame.hand)
    return both if min(fits) > _LEAST_FIT and max(fits) > _OTHER_FIT else []


def _faint(frame: FaceFrame, grey: Bytes) -> list[Iris]:
    """Of all pairs that look the same way, the one that is darkest against what is beside it."""
    steps = np.linspace(-frame.apart, frame.apart, _STEPS)
    down, across = (
        one.ravel() for one in np.meshgrid(_DOWN * steps, _ACROSS * steps, indexing="ij")
    )
    tried = [
        _tried(frame, frame.on_grid(across + eye * frame.apart, down), grey) for eye in (-0.5, 0.5)
    ]
    one, two = (darker for _, darker in tried)
    worth = np.minimum(one[:, None], two) + (one[:, None] + two) / 2
    off = (np.abs(values[:, None] - values) / frame.apart for values in (across, down))
    alike = np.logical_and(
        *(far < most for far, most in zip(off, (_ALIKE_ACROSS, _ALIKE_DOWN), strict=True))
    )
    at = np.unravel_index(np.where(alike, worth, -np.inf).argmax(), worth.shape)
    return [
        _iris(frame, places[number], float(darker[number]))
        for (places, darker), number in zip(tried, at, strict=True)
    ]


def _again(frame: FaceFrame, lids: Lids, grey: Bytes) -> Iris:
    """The iris in the middle between lids: at first it may be a shaded corner."""
    middle = np.array([(lids.left[0] + lids.right[0]) / 2])
    upper, lower = lids.curves(middle)
    steps = np.linspace(-1, 1, _AGAIN)
    down, across = np.meshgrid(_AGAIN_DOWN * steps, _AGAIN_ACROSS * steps, indexing="ij")
    below = (1 - _LOWER) * upper + _LOWER * lower
    places, darker = _tried(
        frame, lids.on_grid(middle + across.ravel(), below + down.ravel()), grey
    )
    at = int(darker.argmax())
    return _iris(frame, places[at], float(darker[at]))


def _tried(frame: FaceFrame, places: Doubles, grey: Bytes) -> tuple[Doubles, Doubles]:
    """Places, and by how many levels a circle around each is darker than its darker side."""
    radius = _RADIUS * frame.apart * frame.side
    return places, sides_at(grey, places, radius, frame.level).mean(axis=2).min(axis=1)


def _iris(frame: FaceFrame, place: Doubles, step: float) -> Iris:
    # What lids leave of it they know better.
    return Iris(
        x=float(place[0]),
        y=float(place[1]),
        radius=_RADIUS * frame.apart * frame.side,
        level=frame.level,
        step=step,
        covered=(True, True),
    )
