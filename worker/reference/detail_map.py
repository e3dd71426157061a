"""The detail map: how much line there is to trace, whatever its contrast.

A line is where a person would draw one: an edge, found as a zero crossing of a difference
of Gaussians (Marr and Hildreth 1980; the ratio of the widths after Winnemöller,
Kyprianidis and Olsen 2012). An edge either counts, wholly, or does not: it counts where the
contrast around it stands out from the photo's own noise and is at least 3.5 % of the range.
So a faint fold counts as much as a black outline, and grain and compression count nothing.

A drawn stroke counts its two edges, at every scale. A zero crossing knows nothing of
width, and telling strokes from narrow shapes would need a width to compare with, and so
depend on contrast again. It doubles the line of lettering and hatching finer than the pen:
the places where tape hurts most.

Length is counted by the Cauchy-Crofton formula: a curve of length L is crossed by a set of
parallel lines a distance d apart, averaged over all directions, 2 L / (pi d) times. Four
directions, rows, columns and both diagonals, are within 6 % for a straight line at any
angle (3 % once the mean over angles is made true), and better for all that bends.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.spec.study import DetailLevel, Floats

#: The longest side of the finest level; the coarsest has no less than the second.
FINEST_PX, COARSEST_PX = 3072, 256
#: Cells are so many level pixels wide and high.
CELL_PX = 4
#: Rows worked on at once: small enough for the processor's cache.
_STRIP_ROWS = 64
#: Pixels that a strip needs around it: 2 and 3 for the two smoothings, 1 for slopes, and one
#: more on the right and below, where pairs reach to.
_BEFORE_PX, _AFTER_PX = 6, 7

#: Encoded levels are counted in so many parts, so that integers are exact enough.
_PARTS = 64
#: Contrast that counts, of 255: 3.5 %.
_LEAST_STEP = 9.0
#: What a step of 1 gives, at the worst place of the edge between pixels: as central
#: difference of the first smoothing (sigma 1: the normal integral from -0.5 to 1.5), and
#: one pixel from the edge as difference of the two smoothings (sigma 1 and 1.58).
_SLOPE_OF_STEP, _LOBE_OF_STEP = 0.62, 0.10
#: The same for white noise of standard deviation 1: the norms of those kernels.
_SLOPE_OF_NOISE, _LOBE_OF_NOISE = 0.30, 0.125
#: How far above the noise an edge must stand, in standard deviations: its slope, which
#: decides, and its lobe, which only distinguishes an edge from noise on a slope.
_SLOPE_STANDS_OUT, _LOBE_STANDS_OUT = 5.0, 3.0
#: The tenth part of a Rayleigh distribution (slopes of noise) lies below 0.459 deviations.
_TENTH_OF_SLOPES = 0.459
#: Where a picture has no quiet place at all, its texture is not taken for more noise than
#: this, which still lets a step of 10 % count.
_MOST_GRAIN = 12.0
#: Noise is measured in one strip of so many.
_SAMPLED_STRIPS = 6
#: Crossings are weighted so that integers hold the spacing of diagonals, 1/sqrt 2 (5/7 is
#: 1 % too much), and fill the eight bits that cells are averaged in.
_STRAIGHT, _DIAGONAL = 70, 50
#: Length for one straight crossing: pi/8 for four directions, made true on the mean over
#: all angles by the factor that the 1 % above leaves.
_LENGTH = math.pi / 8 / _STRAIGHT * 2 / (1 + _DIAGONAL / _STRAIGHT * math.sqrt(2))

#: Bits of a pixel.
_DARK, _LIGHT, _EDGE = 1, 2, 4

_Bytes = npt.NDArray[np.uint8]
_Shorts = npt.NDArray[np.int16]
_Flags = npt.NDArray[np.bool_]
_Array = npt.NDArray[Any]


def detail_levels(
    grey: Image.Image, size_px: tuple[int, int], shrink: int, threads: Executor
) -> tuple[DetailLevel, ...]:
    """The detail of a picture at octaves of scale, from fine to coarse.

    Args:
        grey: Mode L, the whole upright reference, its longer side at most `FINEST_PX`.
        size_px: Width and height of the reference itself.
        shrink: How many reference pixels one of `grey` stands for, on each side; the last
            ones on the right and at the bottom may stand for less.
        threads: Where strips are worked on.
    """
    levels = []
    while True:
        extent = (size_px[0] / shrink, size_px[1] / shrink)
        density = line_density(grey, threads, extent)
        levels.append(DetailLevel(density=density, pixel_size_px=float(shrink)))
        if max(grey.size) // 2 < COARSEST_PX or min(grey.size) // 2 < CELL_PX:
            return tuple(levels)
        grey, shrink = grey.reduce(2), shrink * 2


def line_density(
    grey: Image.Image, threads: Executor, extent: tuple[float, float] | None = None
) -> Floats:
    """Length of line per area, in pixels per square pixel, on cells of 4 x 4 pixels.

    Args:
        grey: Mode L.
        threads: Where strips are worked on.
        extent: Width and height that the picture truly has, where its last pixels are not
            whole ones.

    Returns:
        (rows, columns) over the whole extent; where its sides are no multiples of 4, cells
        are a little larger or smaller than that.
    """
    padded = np.pad(np.asarray(grey), (_BEFORE_PX, _AFTER_PX), mode="edge")
    around = _BEFORE_PX + _AFTER_PX
    parts = [padded[top : top + _STRIP_ROWS + around] for top in range(0, grey.height, _STRIP_ROWS)]
    noise = noise_level(parts[len(parts) // 2 % _SAMPLED_STRIPS :: _SAMPLED_STRIPS])
    strips = threads.map(lambda part: _crossings(part, noise), parts)
    crossings = Image.fromarray(np.concatenate(list(strips)))
    # Averages of eight bits: one line across a cell gives 45.
    means = Image.fromarray(np.asarray(crossings.reduce(CELL_PX), np.float32) * np.float32(_LENGTH))
    width, height = extent or grey.size
    cells = (width / CELL_PX, height / CELL_PX)
    size = (max(round(cells[0]), 1), max(round(cells[1]), 1))
    if means.size != cells:
        means = means.resize(size, Image.Resampling.BOX, box=(0, 0, *cells))
    return np.asarray(means, np.float32)


def noise_level(parts: list[_Bytes]) -> float:
    """Standard deviation of the noise in parts of a picture, in levels.

    The larger of two measures: that of fine noise, and that of grain, which is as wide as
    lines are and escapes the first.
    """
    fine = float(np.median(np.concatenate([_fine_noise(part) for part in parts])))
    slopes = np.concatenate([_steepness(_smoothed(part)[0]).ravel()[::7] for part in parts])
    grain = float(np.quantile(slopes, 0.1)) / _PARTS / _TENTH_OF_SLOPES / _SLOPE_OF_NOISE
    # The mask's norm is 6; 0.6745 is the upper quartile of the normal distribution.
    return max(fine / (6.0 * 0.6745), min(grain, _MOST_GRAIN))


def _fine_noise(part: _Bytes) -> _Shorts:
    """What the mask of Immerkær 1996 gives, without its sign, on some rows.

    The mask (1 -2 1 across and down) is blind to edges and slopes. The median of this is
    taken instead of the mean, so that texture weighs less.
    """
    above, here, below = (
        part[first : len(part) - 2 + first : 4].astype(np.int16) for first in range(3)
    )
    down = above - 2 * here + below
    return np.asarray(np.abs(down[:, :-2] - 2 * down[:, 1:-1] + down[:, 2:])).ravel()


def _crossings(strip: _Bytes, noise: float) -> _Bytes:
    """Weighted zero crossings at each pixel of a strip, given with its surroundings."""
    smooth, coarse = _smoothed(strip)
    lobes = coarse - smooth
    sides = _sides(smooth, lobes, noise)
    here = sides[:-1, :-1]
    right, below, diagonal = sides[:-1, 1:], sides[1:, :-1], sides[1:, 1:]
    straight = _meets(here, right) + _meets(here, below)
    slanted = _meets(here, diagonal) + _meets(right, below)
    weighted: _Bytes = straight * np.uint8(_STRAIGHT) + slanted * np.uint8(_DIAGONAL)
    return weighted


def _smoothed(strip: _Bytes) -> tuple[_Shorts, _Shorts]:
    """Two Gaussian smoothings, sigma 1 and 1.58 pixels, in 64ths of a level.

    Binomial weights (1 4 6 4 1) have variance 1, six more steps of (1 1) / 2 bring it to
    2.5. Sums fit 16 bits at every step: 255 x 2^8, then 255 x 64 x 2^2.
    """
    fine = _added(_added(strip.astype(np.uint16), 4, 1), 4, 0) >> 2
    coarse = fine
    for axis in (1, 0):
        for _ in range(3):
            coarse = _added(coarse, 2, axis) >> 2
    return fine[3:-3, 3:-3].view(np.int16), coarse.view(np.int16)


def _added(values: _Array, times: int, axis: int) -> _Array:
    """Neighbours added, over and over: binomial weights without a multiplication."""
    for _ in range(times):
        values = values[:, 1:] + values[:, :-1] if axis else values[1:] + values[:-1]
    return values


def _meets(one: _Bytes, other: _Bytes) -> _Bytes:
    """1 where one pixel is dark and the other light and either is at an edge, else 0."""
    met: _Flags = (one | other) == _DARK | _LIGHT | _EDGE
    return met.view(np.uint8)


def _sides(smooth: _Shorts, lobes: _Shorts, noise: float) -> _Bytes:
    """Of each pixel the side it is on, and whether it is at an edge that counts."""
    edge = _steep(smooth, noise) & _marked(lobes, noise)
    # Where the coarser smoothing is lighter, the pixel is darker than its surroundings.
    sides: _Bytes = (lobes[1:-1, 1:-1] <= 0).view(np.uint8) + np.uint8(_DARK)
    sides |= edge.view(np.uint8) * np.uint8(_EDGE)
    return sides


def _steep(smooth: _Shorts, noise: float) -> _Flags:
    """Where values change more than they would by noise, in any direction."""
    least = max(_LEAST_STEP * _SLOPE_OF_STEP, _SLOPE_STANDS_OUT * _SLOPE_OF_NOISE * noise)
    return np.asarray(_steepness(smooth) > round(least * _PARTS))


def _steepness(smooth: _Shorts) -> _Shorts:
    """Change over two pixels: the larger of both ways and half of the smaller.

    That is the length to 12 %, without a root.
    """
    across = np.abs(smooth[1:-1, 2:] - smooth[1:-1, :-2])
    down = np.abs(smooth[2:, 1:-1] - smooth[:-2, 1:-1])
    return np.asarray(np.maximum(across, down) + (np.minimum(across, down) >> 1))


def _marked(lobes: _Shorts, noise: float) -> _Flags:
    """Where the lobe of an edge, not of noise on a slope, is within a pixel."""
    least = max(_LEAST_STEP * _LOBE_OF_STEP / 2, _LOBE_STANDS_OUT * _LOBE_OF_NOISE * noise)
    clear = np.abs(lobes) > round(least * _PARTS)
    rows = clear[:-2] | clear[1:-1] | clear[2:]
    return np.asarray(rows[:, :-2] | rows[:, 1:-1] | rows[:, 2:])
