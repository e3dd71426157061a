"""What a photo really resolves, however many pixels it has: the blur of its sharpest edges.

An enlarged, defocused or shaken photo has no edge as steep as its pixels allow. The blur of an
edge is found by blurring it again (Zhuo and Sim, "Defocus map estimation from a single image",
Pattern Recognition 44, 2011): a step of contrast C that a Gaussian of variance v has blurred has
the slope C / sqrt(2 pi v) in its middle. So 1 / slope^2 grows with the variance that is added, on
a straight line that meets zero at -v. Three amounts are added here, not two: only steps give a
straight line, while thin lines and texture do not, and are left out.

Much of a sharp photo may be soft on purpose, so the sharpest edges of the steepest squares
decide, also those between fine texture, which show at twice the size. A photo without edges says
nothing, and counts as sharp.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reference.blurred_again import Edges, edges_of

#: Sides of the squares that are looked at.
CELL_PX = 64
#: Squares kept of a tile, so that a small face is enough; of the picture; and at twice the size.
_MOST_OF_TILE, _MOST_CELLS, _MOST_TWICE = 24, 64, 16
#: What is in focus is so steep, as a share of the steepest square; the rest may be soft.
_NEARLY_AS_STEEP = 0.4
#: Every so many rows and columns are read to choose them.
_STEP_PX = 8
#: An edge has a contrast of so many levels, and of so many times the noise.
_LEAST_CONTRAST, _STANDS_OUT = 20.0, 10.0
#: Noise counts so much more at twice the size, where less of it is averaged.
_NOISE_TWICE = 1.5
#: The middle of three points is so close to the line through the others, as a share.
_STRAIGHT = 0.03
#: Blur moves the middle of a step by less.
_MOST_MOVED_PX = 0.5
#: The slope's width agrees with its height, in square pixels and as a share.
_AGREES_PX2, _AGREES = 0.5, 0.25
#: This share of edges is the sharpest; fewer edges than this, in all or along one way, say nothing.
_SHARPEST, _LEAST_EDGES = 0.1, 24
#: Blur that enlarging to twice the size (bicubic) adds, in square pixels of that size.
_TWICE_PX2 = 0.45
#: Standard deviations of the blur that sharp photographs have, and of that of one pixel. Half of
#: the contrast at the pixels' highest frequency (MTF50, common practice) is left by a Gaussian of
#: 0.375; the sharpest edges are sharper than that, and 0.28 is right on average for photographs
#: that were blurred, and enlarged 2, 3 and 4 times.
_SHARP_PX, _PIXEL_PX = 0.45, 0.28
#: Where blur across and along differ by more, in square pixels, the camera was moved.
_SHAKEN_PX2 = 1.25
#: Squares are large enough for blur of so many resolved pixels; for more, the picture is reduced.
_MOST_PX = 5.0
#: Below so many pixels a reduced picture says nothing, nor does blur of fewer of its pixels.
_LEAST_SIDE_PX, _BLURRED_PX = 256, 1.5
#: Immerkær's mask has the norm 6; 0.6745 is the upper quartile of the normal distribution.
_MASK_OF_NOISE = 6.0 * 0.6745

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Cells:
    """Squares of a picture, steepest first.

    Attributes:
        steepness: (cells,).
        pixels: (cells, 64, 64) grey.
    """

    steepness: npt.NDArray[np.int64]
    pixels: Bytes


def steepest_cells(grey: Image.Image) -> Cells:
    """The squares of a part of a picture that have the steepest edges.

    Args:
        grey: Mode L.
    """
    pixels, side = np.asarray(grey), CELL_PX
    rows, columns = pixels.shape[0] // side, pixels.shape[1] // side
    if not rows * columns:
        return Cells(np.zeros(0, np.int64), np.zeros((0, side, side), np.uint8))
    steepness = _steepness(pixels[: rows * side, : columns * side]).ravel()
    best = np.argsort(-steepness, kind="stable")[:_MOST_OF_TILE]
    corners = [(which // columns * side, which % columns * side) for which in best.tolist()]
    squares = [pixels[top : top + side, left : left + side] for top, left in corners]
    return Cells(steepness[best], np.stack(squares))


def _steepness(pixels: Bytes) -> npt.NDArray[np.int64]:
    """The steepest places of some rows and columns of each square, added up."""
    side, step = CELL_PX, _STEP_PX
    rows, columns = pixels.shape[0] // side, pixels.shape[1] // side
    across, down = np.zeros_like(pixels[::step]), np.zeros_like(pixels[:, ::step])
    across[:, 1:-1] = _apart(pixels[::step, 2:], pixels[::step, :-2])
    down[1:-1] = _apart(pixels[2:, ::step], pixels[:-2, ::step])
    of_rows = across.reshape(rows, side // step, columns, side).max(axis=3)
    of_columns = down.reshape(rows, side, columns, side // step).max(axis=1)
    return np.asarray(of_rows.sum(axis=1, dtype=np.int64) + of_columns.sum(axis=2, dtype=np.int64))


def _apart(one: Bytes, other: Bytes) -> Bytes:
    return np.asarray(np.maximum(one, other) - np.minimum(one, other))


def resolved_px(found: Iterable[Cells], small: Image.Image, shrink: int) -> float:
    """How many pixels wide the finest pixel is that the photo can fill; 1 where all are.

    Args:
        found: The steepest squares of all parts.
        small: The whole picture in mode L, reduced by `shrink`.
        shrink: How many pixels one of `small` stands for, on each side.
    """
    resolved = _resolved(_steepest(found))
    if resolved is not None and resolved < _MOST_PX:
        return resolved
    for coarser, picture in _reduced(small, shrink):
        again = _resolved(_steepest([steepest_cells(picture)]))
        if again is not None and again < _BLURRED_PX:
            break
        if again is not None:
            resolved = max(again * coarser, resolved or 1.0)
            if again < _MOST_PX:
                break
    return resolved or 1.0


def _reduced(small: Image.Image, shrink: int) -> Iterator[tuple[int, Image.Image]]:
    """The picture, smaller each time, while it is large enough to say something."""
    if shrink == 1:
        small, shrink = small.reduce(2), 2
    while min(small.size) >= _LEAST_SIDE_PX:
        yield shrink, small
        small, shrink = small.reduce(2), shrink * 2


def _steepest(found: Iterable[Cells]) -> Cells:
    """The steepest squares of the whole picture."""
    parts = list(found)
    steepness = np.concatenate([part.steepness for part in parts])
    best = np.argsort(-steepness, kind="stable")[:_MOST_CELLS]
    return Cells(steepness[best], np.concatenate([part.pixels for part in parts])[best])


def _resolved(found: Cells) -> float | None:
    """The same for some squares; None where too few edges say anything."""
    if not len(found.pixels):
        return None
    cells, noise = found.pixels, _noise_of(found.pixels)
    in_focus = np.count_nonzero(found.steepness >= _NEARLY_AS_STEEP * found.steepness[0])
    steps = _steps_of(cells[:in_focus], noise)
    if len(steps.way) < _LEAST_EDGES:
        return None
    blur = _sharpest(steps.variance)
    # Blur of many pixels is measured in the reduced picture anyway.
    if 1.0 < _pixels_of(blur) < 2.0 * _MOST_PX:
        finer = _steps_of(_twice(cells[: min(in_focus, _MOST_TWICE)]), noise * _NOISE_TWICE)
        if len(finer.way) >= _LEAST_EDGES:
            blur = min(blur, (_sharpest(finer.variance) - _TWICE_PX2) / 4.0)
        elif _pixels_of(blur) < _MOST_PX:
            return None
    return max(_pixels_of(blur), _pixels_of_shaken(steps))


def _pixels_of(variance: float) -> float:
    """The resolved pixel for a blur, in pixels of the photo."""
    more = max(variance - _SHARP_PX * _SHARP_PX, 0.0)
    return math.sqrt(1.0 + more / (_PIXEL_PX * _PIXEL_PX))


def _pixels_of_shaken(steps: Edges) -> float:
    """The same where blur depends on the direction; 1 where it does not.

    A shaken photo holds as many pixels as both ways together allow.
    """
    ways = [steps.variance[steps.way == way] for way in range(4)]
    sharpest = [_sharpest(some) if len(some) >= _LEAST_EDGES else None for some in ways]
    pairs = [
        math.sqrt(_pixels_of(one) * _pixels_of(other))
        for one, other in zip(sharpest[:2], sharpest[2:], strict=True)
        if one is not None and other is not None and abs(one - other) > _SHAKEN_PX2
    ]
    return max(pairs, default=1.0)


def _sharpest(variance: Floats) -> float:
    return float(np.quantile(variance, _SHARPEST))


def _twice(cells: Bytes) -> Bytes:
    """Squares enlarged to twice their size."""
    size = (2 * CELL_PX, 2 * CELL_PX)
    large = [Image.fromarray(cell).resize(size, Image.Resampling.BICUBIC) for cell in cells]
    return np.stack([np.asarray(cell) for cell in large])


def _noise_of(cells: Bytes) -> float:
    """Standard deviation of noise in the calmest squares, by the mask of Immerkær 1996."""
    some = cells[:, ::2].astype(np.int16)
    down = some[:, :-2] - 2 * some[:, 1:-1] + some[:, 2:]
    mask = np.abs(down[:, :, :-2] - 2 * down[:, :, 1:-1] + down[:, :, 2:])
    each = np.median(mask.reshape(len(mask), -1)[:, ::5], axis=1)
    return float(np.quantile(each, 0.25)) / _MASK_OF_NOISE


def _steps_of(cells: Bytes, noise: float) -> Edges:
    """The edges that the method is about."""
    edges = edges_of(cells)
    return edges.taken(_are_steps(edges, noise))


def _are_steps(edges: Edges, noise: float) -> npt.NDArray[np.bool_]:
    """Marks steps that are clear of noise."""
    disagree = np.abs(edges.variance_by_width - edges.variance)
    steps = edges.contrast > max(_LEAST_CONTRAST, _STANDS_OUT * noise)
    steps &= np.abs(edges.off_line) < _STRAIGHT
    steps &= edges.moved_px < _MOST_MOVED_PX
    return np.asarray(steps & (disagree < _AGREES_PX2 + _AGREES * np.abs(edges.variance)))
