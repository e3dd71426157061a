"""How much each point counts: its contrast against noise, texture and larger forms."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.colour_edges import CHROMA_WEIGHT
from worker.picture.outline.points.edge_points import (
    SLOPE_OF_STEP,
    Points,
    gradients_of,
    rows_and_columns,
)
from worker.picture.outline.points.gaussian import REACH_PX, Floats, box_mean
from worker.picture.outline.points.sampled_picture import CHROMA_PX, Bytes, SampledPicture
from worker.picture.outline.points.sides import coarsening, sides_apart

#: Forms are looked for at a scale so many times that of lines: 2 mm for 0.5 mm.
COARSER = 4
#: Texture is looked for in squares so far to either side of a line, and the quieter side counts:
#: the outline of fur and an eye's lid have texture on one side, what is inside has it on both.
_TEXTURE_RADIUS_MM, _ASIDE_MM = 3.0, 4.5
#: What a line's own bends leave there, as a share of its contrast.
_OWN_TEXTURE = 0.08
#: How much of that slope is taken off a line's contrast (the surround suppression of
#: Grigorescu, Petkov and Westenberg 2003): lines among many count less than one alone.
_SUPPRESSION = 2.0
#: How a line's own contrast and that of its form are weighed, and how far the form may lift
#: what is faint at the finer scale; a line thinner than the smoothing has no form.
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
#: Colour is smoothed twice as far as grey, so a line of its noise has half as many parts that
#: are independent, and its mean strays further by this.
_CHROMA_NOISE = 1.4
#: Parts of the picture in which noise is measured, each way, and their sides.
_NOISE_PARTS, _NOISE_PART_PX = 7, 75
#: Less slope than this is none: burnt-out or painted areas have no noise to tell.
_NO_SLOPE = 0.02


@dataclass(frozen=True, kw_only=True)
class PointMeasures:
    """Measures of points, one value for each point.

    Attributes:
        strength: Contrast in levels, less what the surroundings have anyway (texture).
        form: Contrast at the coarser scale, in levels: that of the form which they bound.
        clearness: Contrast in standard deviations of the noise.
        texture: Contrast that there is anyway around it, on the mean of both sides, in levels.
        quieter: The same on the side with less of it, without noise.
        apart: By how many levels both sides differ as wholes.
    """

    strength: Floats
    form: Floats
    clearness: Floats
    texture: Floats
    quieter: Floats
    apart: Floats


@dataclass(frozen=True, kw_only=True)
class SlopeMeans:
    """The mean slope in each square of `COARSER` pixels, of grey and, if there is any, chroma."""

    grey: Floats
    chroma: Floats | None


def noise_of(values: Bytes) -> float:
    """Standard deviation of the contrast, in levels, of points that are noise alone."""
    if min(values.shape) <= 2 * REACH_PX + 2:
        return 0.0
    rows, columns = (_starts(side) for side in values.shape)
    steep = np.concatenate(
        [_slopes_at(values, int(top), int(left)) for top in rows for left in columns]
    )
    steep = steep[steep > _NO_SLOPE]
    if not steep.size:
        return 0.0
    return min(float(np.quantile(steep, 0.1)) / _TENTH_OF_SLOPES / SLOPE_OF_STEP, _MOST_NOISE)


def chroma_noise_of(sampled: SampledPicture) -> float:
    """The same for chroma: for both channels together."""
    return CHROMA_WEIGHT * math.hypot(*map(noise_of, sampled.chroma))


def measure_points(
    sampled: SampledPicture, points: Points, slope_means: SlopeMeans, noise: tuple[float, float]
) -> PointMeasures:
    """Measure points in their surroundings.

    Args:
        sampled: The picture.
        points: Of lines.
        slope_means: The texture around them.
        noise: Of grey and of colour.
    """
    row, column = rows_and_columns(points.key, sampled.grey.shape[1])
    at = (row // COARSER * slope_means.grey.shape[1] + column // COARSER).astype(np.intp)
    channels = _channels(sampled)
    form = _form(channels, points, at)
    clear, texture, quieter = _clear(sampled, points, slope_means, noise)
    lifted = np.minimum(form, np.float32(_MOST_LIFT) * points.total)
    strength = np.where(
        points.thin, _RIDGE_SHARE * clear, _OWN_SHARE * clear + _FORM_SHARE * lifted
    )
    return PointMeasures(
        strength=strength.astype(np.float32),
        form=form,
        clearness=_clearness(points, noise),
        texture=texture,
        quieter=quieter,
        apart=_apart(channels, points, sampled.pitch_mm),
    )


def cell_means(values: npt.NDArray[np.uint8] | Floats, side: int = COARSER) -> Floats:
    """The mean of each square of `side` pixels; edge values are repeated outwards."""
    rows, columns = values.shape
    more = ((0, -rows % side), (0, -columns % side))
    padded = np.pad(values, more, mode="edge") if rows % side or columns % side else values
    # Summed as it is read: a mural's grey as numbers of four bytes would be forty megabytes.
    wide = padded.reshape(-1, side, padded.shape[1]).sum(axis=1, dtype=np.float32)
    # Columns of squares at once: sums of so few numbers each take as long to begin as to make.
    sums = wide[:, ::side].copy()
    for column in range(1, side):
        sums += wide[:, column::side]
    return np.asarray(sums / np.float32(side**2), np.float32)


def _starts(side: int) -> npt.NDArray[np.int64]:
    return np.unique(np.linspace(0, max(side - _NOISE_PART_PX, 0), _NOISE_PARTS).astype(np.int64))


def _slopes_at(values: Bytes, top: int, left: int) -> Floats:
    part = values[top : top + _NOISE_PART_PX, left : left + _NOISE_PART_PX]
    return gradients_of(part, left, top, (values.shape[0], values.shape[1])).steep.ravel()


def _clearness(points: Points, noise: tuple[float, float]) -> Floats:
    """By which of grey and colour a point stands out more from its noise."""
    grey = points.contrast / (
        np.where(points.thin, _RIDGE_NOISE, 1.0) * max(noise[0], _LEAST_NOISE)
    )
    chroma = points.chroma / np.float32(_CHROMA_NOISE * max(noise[1], _LEAST_NOISE))
    return np.asarray(np.maximum(grey, chroma), np.float32)


def _channels(sampled: SampledPicture) -> list[Floats]:
    """Grey and colour, as far as it counts beside it, in means of small squares."""
    colours = (cell_means(values, COARSER // CHROMA_PX) for values in sampled.chroma)
    return [cell_means(sampled.grey), *(np.float32(CHROMA_WEIGHT) * each for each in colours)]


def _form(channels: list[Floats], points: Points, at: npt.NDArray[np.int64]) -> Floats:
    form = _across(channels[0], points, at)
    for channel in channels[1:]:
        form = np.hypot(form, _across(channel, points, at))
    return form


def _apart(channels: list[Floats], points: Points, pitch_mm: float) -> Floats:
    coarser = coarsening(COARSER * pitch_mm)
    cell_px = COARSER * coarser
    means = [cell_means(channel, coarser) for channel in channels]
    return sides_apart(means, points, cell_px, cell_px * pitch_mm)


def _across(small: Floats, points: Points, at: npt.NDArray[np.int64]) -> Floats:
    """Contrast across points, in a reduced picture."""
    padded = np.pad(small, REACH_PX + 1, mode="edge")
    gradients = gradients_of(padded, 0, 0, (small.shape[0], small.shape[1]))
    across = gradients.gx.ravel().take(at) * points.across_x
    across += gradients.gy.ravel().take(at) * points.across_y
    return np.asarray(np.abs(across) / np.float32(SLOPE_OF_STEP))


def _clear(
    sampled: SampledPicture,
    points: Points,
    slope_means: SlopeMeans,
    noise: tuple[float, float],
) -> tuple[Floats, Floats, Floats]:
    """Contrast less the texture around, which neither line nor noise explains, and that texture.

    It is given for the mean of both sides, and without noise for the quieter one. Grey and colour
    are each held against their own: wood and leaves have far more of the one.
    """
    radius = max(round(_TEXTURE_RADIUS_MM / (COARSER * sampled.pitch_mm)), 1)
    sides = _sides(sampled, points, slope_means.grey.shape)

    def clear(contrast: Floats, gradients: Floats, noise: float) -> tuple[Floats, ...]:
        mean = box_mean(gradients, radius).ravel()
        one, two = (mean.take(side) / np.float32(SLOPE_OF_STEP) for side in sides)
        quieter = np.minimum(one, two) - np.float32(_MEAN_OF_SLOPES * noise)
        texture = quieter - np.float32(_OWN_TEXTURE) * contrast
        rest = contrast - np.float32(_SUPPRESSION) * np.maximum(texture, 0)
        both = np.asarray((one + two) / 2, np.float32)
        return np.maximum(rest, 0), both, np.maximum(quieter, 0)

    grey = clear(points.contrast, slope_means.grey, noise[0])
    if slope_means.chroma is None:
        return grey[0], grey[1], grey[2]
    # Slopes of colour are counted by its own pixels, of which a border is fewer wide.
    finer = np.float32(1 / CHROMA_PX)
    chroma = clear(points.chroma, slope_means.chroma * finer, noise[1] / CHROMA_PX)
    total, both, quieter = (np.hypot(*each) for each in zip(grey, chroma, strict=True))
    return total, both, quieter


def _sides(
    sampled: SampledPicture, points: Points, shape: tuple[int, int]
) -> tuple[npt.NDArray[np.int64], ...]:
    """The squares that lie to either side of a point's line."""
    aside, (rows, columns) = np.float32(_ASIDE_MM / sampled.pitch_mm), shape
    found = []
    for far in (aside, -aside):
        row = ((points.y + far * points.across_y) / COARSER).astype(np.int64)
        column = ((points.x + far * points.across_x) / COARSER).astype(np.int64)
        found.append(np.clip(row, 0, rows - 1) * columns + np.clip(column, 0, columns - 1))
    return tuple(found)
