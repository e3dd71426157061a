"""What is in focus: how much finer things are to be seen around each place than coarse ones are.

Blur takes what is fine and leaves what is coarse. Seen at two scales, a step that is sharp slopes
by half as much at the finer scale as at the coarser one, in the mean of squares, and one that is
blurred over more than the coarser scale by a quarter; fur, leaves and letters have more at the
finer scale than at the coarser one. So the quotient of both tells focus from blur, whatever the
contrast is and whether there is an outline or a texture (after Zhuo and Sim 2011, "Defocus map
estimation from a single image", who blur an edge again and compare its slopes).
"""

from __future__ import annotations

import numpy as np

from worker.picture.outline.points.edge_points import SLOPE_OF_STEP, Points, gradients_of
from worker.picture.outline.points.gaussian import REACH_PX, Floats, box_mean
from worker.picture.outline.points.point_measures import COARSER, cell_means
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.picture.outline.points.sides import cells_aside

#: Squares so far to either side are seen together, twice; no fewer of them than the second; of
#: means over so many first if there are enough.
_AROUND_MM, _FEWEST, _COARSER = 5.0, 2, 2
#: A line is of what is in focus if either side of it is, so far aside.
_ASIDE_MM = 9.0
#: Of a step that is sharp, and of one that is blurred over more than the coarser scale: a Gaussian
#: slope's square adds up to height over width, and the coarser scale is four times the finer one.
_SHARP, _BLURRED = COARSER**-0.5, COARSER**-1.0
#: Slopes of so many levels in the mean are none.
_NOTHING_LEVELS = 2.0
#: Mean slope of noise, in its standard deviations (of Rayleigh's distribution).
_MEAN_OF_SLOPES = 1.253
#: The sharpest tenth of edges is in focus; edges count up to so many levels each, from so many
#: on, and one point in so many is asked. Where all is blurred, less than the last is no difference.
_SHARPEST, _MOST_LEVELS, _LEAST_LEVELS, _EVERY, _LITTLE = 0.9, 40.0, 6.0, 4, 0.25


def in_focus(sampled: SampledPicture, slope_means: Floats, noise: float, points: Points) -> Floats:
    """How far points are in focus, 0 to 1.

    Args:
        sampled: The picture.
        slope_means: Mean slopes of grey in its squares of `COARSER` pixels.
        noise: Of grey.
        points: Where it is asked for.
    """
    radius = round(_AROUND_MM / (COARSER * sampled.pitch_mm))
    coarser = _COARSER if radius >= _COARSER * _FEWEST else 1
    sharp = _sharpness(sampled, slope_means, noise, coarser, max(radius // coarser, _FEWEST))
    aside_px, cell_px = _ASIDE_MM / sampled.pitch_mm, COARSER * coarser
    shape, flat = (sharp.shape[0], sharp.shape[1]), sharp.ravel()
    there = flat.take(cells_aside(points, 0.0, cell_px, shape))
    for far in (aside_px, -aside_px):
        np.maximum(there, flat.take(cells_aside(points, far, cell_px, shape)), out=there)
    counts = points.total > np.float32(_LEAST_LEVELS)
    weight = np.minimum(points.total, np.float32(_MOST_LEVELS)) * counts
    sharpest = _sharpest(there, weight)
    lacks = (sharpest - there) / max(sharpest, np.float32(_LITTLE))
    return np.asarray(1 - np.clip(lacks, 0, 1), np.float32)


def _sharpness(
    sampled: SampledPicture, slope_means: Floats, noise: float, coarser: int, radius: int
) -> Floats:
    """0 where all is blurred and 1 where steps are sharp, in so much coarser squares."""
    small = cell_means(sampled.grey)
    steep = gradients_of(
        np.pad(small, REACH_PX + 1, mode="edge"), 0, 0, (small.shape[0], small.shape[1])
    ).steep
    least = np.float32(SLOPE_OF_STEP * _MEAN_OF_SLOPES * noise)
    fine, coarse = (
        box_mean(box_mean(cell_means(each, coarser), radius), radius)
        for each in (np.maximum(slope_means**2 - least**2, 0), steep**2)
    )
    # Where next to nothing is to be seen, nothing says that it is blurred.
    nothing = np.float32(SLOPE_OF_STEP * _NOTHING_LEVELS) ** 2
    quotient = np.sqrt((fine + _SHARP**2 * nothing) / (coarse + nothing))
    return np.asarray(np.clip((quotient - _BLURRED) / (_SHARP - _BLURRED), 0, 1), np.float32)


def _sharpest(sharp: Floats, weight: Floats) -> np.float32:
    """What the sharpest part of all weight has."""
    sharp, weight = sharp[::_EVERY], weight[::_EVERY]
    order = np.argsort(sharp)
    total = np.cumsum(weight[order], dtype=np.float64)
    if not len(total) or total[-1] <= 0:
        return np.float32(1)
    found = sharp[order[np.searchsorted(total, _SHARPEST * total[-1])]]
    return np.float32(found)
