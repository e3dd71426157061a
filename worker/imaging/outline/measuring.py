"""What points are part of: noise, texture, a form that shows in large."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.imaging.outline.canvas import Canvas
from worker.imaging.outline.points import EDGE, SLOPE_OF_STEP, Points, slopes_of
from worker.imaging.outline.smoothing import REACH_PX, Floats, box_mean

#: Forms are looked for at a scale so many times that of lines: 2 mm for 0.5 mm.
COARSER = 4
#: The slope a line's own edge leaves in its surroundings, as a share of its contrast: a step
#: of 1 over the width of the square that means are taken of.
_OWN_TEXTURE = 0.16
_TEXTURE_RADIUS_MM = 4.0
#: How much of the surroundings' slope is taken off a line's contrast (the surround suppression
#: of Grigorescu, Petkov and Westenberg 2003): lines among many count less than one alone.
_SUPPRESSION = 1.5
#: How a line's own contrast and that of its form are weighed, and how far the form may lift
#: what is faint in small; a line thinner than the smoothing has no form.
_OWN_SHARE, _FORM_SHARE, _MOST_LIFT, _RIDGE_SHARE = 0.6, 0.4, 1.5, 0.8

#: The tenth part of a Rayleigh distribution (slopes of noise) lies below 0.459 deviations,
#: and its mean is 1.253.
_TENTH_OF_SLOPES, _MEAN_OF_SLOPES = 0.459, 1.253
#: A picture without any quiet place is not taken for more noise than this.
_MOST_NOISE = 16.0
#: Rounding to whole levels alone makes this much.
_LEAST_NOISE = 0.1
#: Noise bends more than it slopes: in units of contrast, the larger bend of white noise has
#: so many times the deviation of its slope.
_RIDGE_NOISE = 1.7
#: Parts of the canvas that noise is looked for in, each way, and their sides.
_NOISE_PARTS, _NOISE_PART_PX = 7, 75
#: Less slope than this is none: burnt-out or painted areas have no noise to tell.
_NO_SLOPE = 0.02


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What goes with points.

    Attributes:
        strength: Contrast in levels, less what the surroundings have of it anyway.
        form: Contrast of the form that they bound, at the coarser scale.
        clearness: Contrast in standard deviations of what noise makes of it.
    """

    strength: Floats
    form: Floats
    clearness: Floats


def noise_of(canvas: Canvas) -> float:
    """Standard deviation of points' contrast where there is nothing but noise, in levels."""
    if min(canvas.grey.shape) <= 2 * REACH_PX + 2:
        return 0.0
    rows, columns = (_starts(side) for side in canvas.grey.shape)
    steep = np.concatenate(
        [_slopes_at(canvas, int(top), int(left)) for top in rows for left in columns]
    )
    steep = steep[steep > _NO_SLOPE]
    if not steep.size:
        return 0.0
    return min(float(np.quantile(steep, 0.1)) / _TENTH_OF_SLOPES / SLOPE_OF_STEP, _MOST_NOISE)


def measured(canvas: Canvas, points: Points, busy: Floats, noise: float) -> Measured:
    """Measure points in their surroundings.

    Args:
        canvas: The picture.
        points: Of lines.
        busy: Mean slope of each square of `COARSER` pixels.
        noise: As `noise_of` tells.
    """
    row, column = np.divmod(points.key, canvas.grey.shape[1])
    at = row // COARSER * busy.shape[1] + column // COARSER
    form = _form(canvas, points, at)
    clear = _clear(canvas, points, busy, noise, at)
    lifted = np.minimum(form, np.float32(_MOST_LIFT) * points.contrast)
    strength = np.where(
        points.kind == EDGE, _OWN_SHARE * clear + _FORM_SHARE * lifted, _RIDGE_SHARE * clear
    )
    deviation = np.where(points.kind == EDGE, 1.0, _RIDGE_NOISE) * max(noise, _LEAST_NOISE)
    return Measured(
        strength=strength.astype(np.float32),
        form=form,
        clearness=(points.contrast / deviation).astype(np.float32),
    )


def mean_squares(values: npt.NDArray[np.uint8] | Floats) -> Floats:
    """Means of squares of `COARSER` pixels; edge values go on outside."""
    rows, columns = values.shape
    padded = np.pad(values, ((0, -rows % COARSER), (0, -columns % COARSER)), mode="edge")
    wide = padded.astype(np.float32, copy=False).reshape(-1, COARSER, padded.shape[1]).sum(axis=1)
    means: Floats = wide.reshape(len(wide), -1, COARSER).sum(axis=2) / np.float32(COARSER**2)
    return means


def _starts(side: int) -> npt.NDArray[np.int64]:
    return np.unique(np.linspace(0, max(side - _NOISE_PART_PX, 0), _NOISE_PARTS).astype(np.int64))


def _slopes_at(canvas: Canvas, top: int, left: int) -> Floats:
    part = canvas.grey[top : top + _NOISE_PART_PX, left : left + _NOISE_PART_PX]
    return slopes_of(part, left, top, canvas.shape).steep.ravel()


def _form(canvas: Canvas, points: Points, at: npt.NDArray[np.int64]) -> Floats:
    small = mean_squares(canvas.grey)
    padded = np.pad(small, REACH_PX + 1, mode="edge")
    slopes = slopes_of(padded, 0, 0, (small.shape[0], small.shape[1]))
    across = slopes.gx.ravel()[at] * points.across_x + slopes.gy.ravel()[at] * points.across_y
    return np.asarray(np.abs(across) / np.float32(SLOPE_OF_STEP))


def _clear(
    canvas: Canvas, points: Points, busy: Floats, noise: float, at: npt.NDArray[np.int64]
) -> Floats:
    """Contrast less the texture around, which neither line nor noise explains."""
    radius = max(round(_TEXTURE_RADIUS_MM / (COARSER * canvas.pitch_mm)), 1)
    around = box_mean(busy, radius).ravel()[at] / np.float32(SLOPE_OF_STEP)
    texture = around - np.float32(_MEAN_OF_SLOPES * noise) - _OWN_TEXTURE * points.contrast
    clear = points.contrast - np.float32(_SUPPRESSION) * np.maximum(texture, 0)
    return np.asarray(np.maximum(clear, 0))
