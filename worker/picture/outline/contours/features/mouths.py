"""Mouths: the outlines of both lips, and between them the line where they part, or an opening.

What is linked around a mouth is teeth, gloss and the shadow below it; a draughtsman draws three or
four curves from corner to corner (common practice). So a template of these is fitted, and each
curve then goes where it is seen best nearby. They are used for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import HELD, Bending, best_band, fair
from worker.picture.outline.contours.features.face_frames import FaceFrame, Patch
from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.contours.features.mouth_sights import MouthSights, mouth_sights
from worker.picture.outline.contours.features.mouth_templates import (
    ACROSS,
    DOWN,
    OPEN,
    STEP,
    MouthTemplate,
    best_template,
)
from worker.picture.outline.contours.placed_reading import between_pixels
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import SampledPicture

#: A template that fits less well is none.
_LEAST_FIT = 2.0
#: Places along curves that are drawn.
_DRAWN = 41
#: A curve goes so many steps up or down to where it is seen, of this size in sides of the face's
#: box; what a bend costs; and waves of so many places are smoothed.
_REACH, _FINE, _BENDS, _FAIR = 5, 0.004, 0.3, 20.0
#: All columns are worth something, so that curves go from corner to corner.
_WORTH = 10.0
#: What is seen less of lips' outer edges is not drawn.
_LEAST_SEEN = 0.3
#: What lies so near, in sides, is the mouth's.
_NEAR = 0.022


@dataclass(frozen=True, kw_only=True)
class Mouth:
    """One of them, in sides of the face's box, from the middle between the eyes.

    Attributes:
        frame: The face's.
        across: Places from corner to corner.
        outer: How far down the outer edges of the upper and the lower lip are there; none of one
            that is not seen.
        inner: The line where lips part; or the upper and lower edge of what is between them.
    """

    frame: FaceFrame
    across: Doubles
    outer: tuple[Doubles, ...]
    inner: tuple[Doubles, ...]

    def lines(self) -> tuple[list[Doubles], list[Doubles]]:
        """Outer and inner lines on the grid: (places, 2) each."""
        outer = [self.frame.on_grid(self.across, one) for one in self.outer]
        return outer, [self.frame.on_grid(self.across, one) for one in self.inner]

    def covers(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places of the frame are in it or near it."""
        drawn = np.array((*self.outer, *self.inner))
        upper, lower = (
            np.interp(across, self.across, one) for one in (drawn.min(axis=0), drawn.max(axis=0))
        )
        along = (across > self.across[0] - _NEAR) & (across < self.across[-1] + _NEAR)
        return np.asarray(along & (down > upper - _NEAR) & (down < lower + _NEAR))


def mouths(frames: tuple[FaceFrame, ...], sampled: SampledPicture) -> tuple[Mouth, ...]:
    """Those that are seen clearly, in colour alone.

    Args:
        frames: Of faces.
        sampled: The picture.
    """
    found = [_mouth(frame, sampled) for frame in frames] if sampled.chroma else []
    return tuple(one for one in found if one is not None)


def _mouth(frame: FaceFrame, sampled: SampledPicture) -> Mouth | None:
    """That of one face, if a template fits well."""
    sights = mouth_sights(Patch.between(frame, ACROSS, DOWN, STEP), sampled)
    fit, template = best_template(sights)
    return _settled(frame, sights, template) if fit > _LEAST_FIT else None


def _settled(frame: FaceFrame, sights: MouthSights, best: MouthTemplate) -> Mouth:
    """The curves where each is seen best."""
    share = np.linspace(-1, 1, _DRAWN)
    across, edges = best.middle + share * best.half, sights.edges
    upper, over, under, lower = best.curves(share)
    outer = [
        _nearby(across, down, seen) for down, seen in ((upper, edges.upper), (lower, edges.lower))
    ]
    inner = [_nearby(across, over, sights.parting)[0]]
    if best.opened:
        opening = [
            _nearby(across, down, seen)[0]
            for down, seen in ((over, edges.over), (under, edges.under))
        ]
        apart = float((opening[1] - opening[0]).mean()) > OPEN / 2
        inner = opening if apart else [(opening[0] + opening[1]) / 2]
    return Mouth(
        frame=frame,
        across=across,
        outer=tuple(down for down, seen in outer if seen > _LEAST_SEEN),
        inner=tuple(inner),
    )


def _nearby(across: Doubles, down: Doubles, seen: Floats) -> tuple[Doubles, float]:
    """A curve where it is seen best, a few steps from where it was, and how well."""
    steps = np.arange(-_REACH, _REACH + 1)
    places = down + _FINE * steps[:, None]
    x = np.broadcast_to((across - ACROSS[0]) / STEP, places.shape).astype(np.float32)
    values = between_pixels(seen, x, ((places - DOWN[0]) / STEP).astype(np.float32))
    # Corners stay where they are.
    from_corners = np.minimum(np.arange(_DRAWN), np.arange(_DRAWN)[::-1])
    allowed = np.abs(steps[:, None]) <= from_corners
    worth = np.where(allowed, values + np.float32(_WORTH), np.float32(-np.inf))
    band = best_band(worth[:, :, None], Bending(rows=1, kinds=0, of_row=_BENDS))
    weight = np.where(from_corners == 0, HELD, 1.0)
    moved = fair(_FINE * steps[band.first].astype(np.float64), _FAIR, weight)
    return down + moved, float(values[band.first, band.columns].mean())
