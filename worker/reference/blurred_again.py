"""Edges of small squares, and how their slopes fall as the squares are blurred again.

Squares are blurred with binomial weights, in integers, a few dozen additions for all of them.
Slopes are central differences, whose own blur is counted with what is added. An edge is a
place where the slope is greatest across it; its height between pixels is that of the parabola
through the logarithms of three slopes, which is exact for a Gaussian.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

#: What a central difference blurs: the variance of a box two pixels wide, in square pixels.
_DIFFERENCE_PX2 = 1.0 / 3.0
#: Blur at each of the three times, in square pixels, and pixels that it takes off each side.
_ADDED_PX2 = tuple(added + _DIFFERENCE_PX2 for added in (1.0, 2.0, 5.0))
_TAKEN_PX = (2, 4, 10)
#: Steps of (1 2 1) / 4, each of variance a half, from one to the next.
_SECOND_STEPS, _THIRD_STEPS = 2, 6
#: Values are counted in so many parts of a level.
_PARTS = 64
#: Slopes below so many levels per pixel are no edges.
_LEAST_SLOPE = 5.0
#: The least curvature of a peak that is worth the name.
_FLAT = 1e-3

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
_Single = npt.NDArray[np.float32]
_Array = npt.NDArray[Any]


@dataclass(frozen=True, kw_only=True)
class Edges:
    """Places where a slope is greatest, as arrays of one length.

    Attributes:
        way: Direction of the slope: 0 across, 1 and 3 slanted, 2 down; 0 and 2, and 1 and 3,
            are at right angles.
        variance: Blur in square pixels, if it is a step; less than 0 where it is sharpened.
        variance_by_width: The same from how fast the slope falls beside its middle.
        off_line: How far the second slope is from what a step would have, as a share.
        contrast: Of the step, in levels.
        moved_px: How far the middle moves with blur.
    """

    way: Ints
    variance: Floats
    variance_by_width: Floats
    off_line: Floats
    contrast: Floats
    moved_px: Floats

    def taken(self, which: npt.NDArray[np.bool_]) -> Edges:
        """Some of them."""
        return Edges(**{name: values[which] for name, values in self.__dict__.items()})


@dataclass(frozen=True)
class _Peaks:
    """Peaks of slopes: 1 / height^2, place beside the pixel, and fall, with variance 1 / fall."""

    inverse: Floats
    place_px: Floats
    fall: Floats


def edges_of(cells: Bytes) -> Edges:
    """All edges of some squares; (cells, rows, columns) grey."""
    across, down, *others = _slopes(cells)
    squares = [across * across + down * down, *others]
    at, way = _greatest(squares[0], across, down)
    step = _steps(squares[0].shape[2])[way]
    first, second, third = (_peaks(values.ravel(), at, step, way) for values in squares)
    (low, middle, high) = _ADDED_PX2
    rise = np.maximum((third.inverse - first.inverse) / (high - low), 1e-12)
    return Edges(
        way=way,
        variance=first.inverse / rise - low,
        variance_by_width=1.0 / first.fall - low,
        off_line=second.inverse / (first.inverse + rise * (middle - low)) - 1.0,
        contrast=np.sqrt(2.0 * math.pi / rise),
        moved_px=np.abs(first.place_px - third.place_px),
    )


def _slopes(cells: Bytes) -> tuple[_Single, _Single, _Single, _Single]:
    """Slopes after the first blur, across and down; squares of slopes after the others.

    All cover the same pixels.
    """
    first = _added(_added(cells.astype(np.uint16), 4, 1), 4, 2) >> 2
    second = _blurred(first, _SECOND_STEPS)
    third = _blurred(second, _THIRD_STEPS)
    pairs = [
        _differences(values, _TAKEN_PX[2] - taken)
        for values, taken in zip((first, second, third), _TAKEN_PX, strict=True)
    ]
    rest = [across * across + down * down for across, down in pairs[1:]]
    return (*pairs[0], rest[0], rest[1])


def _blurred(values: _Array, steps: int) -> _Array:
    for axis in (1, 2):
        for _ in range(steps):
            values = _added(values, 2, axis) >> 2
    return values


def _added(values: _Array, times: int, axis: int) -> _Array:
    """Neighbours added, over and over: binomial weights without a multiplication."""
    for _ in range(times):
        values = (
            values[:, 1:] + values[:, :-1] if axis == 1 else values[:, :, 1:] + values[:, :, :-1]
        )
    return values


def _differences(values: _Array, margin: int) -> tuple[_Single, _Single]:
    """Change over two pixels, across and down, without a margin."""
    rows, columns = values.shape[1] - margin, values.shape[2] - margin
    inside = values[:, margin:rows, margin:columns].view(np.int16)
    across = inside[:, 1:-1, 2:] - inside[:, 1:-1, :-2]
    down = inside[:, 2:, 1:-1] - inside[:, :-2, 1:-1]
    return across.astype(np.float32), down.astype(np.float32)


def _steps(columns: int) -> Ints:
    """From a pixel to the next along each way, in flat arrays."""
    return np.array([1, columns + 1, columns, columns - 1])


def _greatest(squares: _Single, across: _Single, down: _Single) -> tuple[Ints, Ints]:
    """Flat places where the slope is greatest across the edge, and its way there."""
    steep = squares > (2 * _PARTS * _LEAST_SLOPE) ** 2
    steep[:, [0, -1]] = False
    steep[:, :, [0, -1]] = False
    at = np.flatnonzero(steep)
    angle = np.arctan2(down.ravel()[at], across.ravel()[at])
    way = np.rint(angle / (math.pi / 4)).astype(np.int64) % 4
    step, flat = _steps(squares.shape[2])[way], squares.ravel()
    peak = (flat[at] >= flat[at + step]) & (flat[at] > flat[at - step])
    return at[peak], way[peak]


def _peaks(squares: _Single, at: Ints, step: Ints, way: Ints) -> _Peaks:
    """The parabola through logarithms of three squared slopes."""
    here, after, before = (
        np.log(np.maximum(squares[place], 1.0).astype(np.float64))
        for place in (at, at + step, at - step)
    )
    bend = np.minimum(after - 2.0 * here + before, -_FLAT)
    height = here - (after - before) ** 2 / (8.0 * bend)
    return _Peaks(
        inverse=np.exp(-height) * (2.0 * _PARTS) ** 2,
        place_px=(before - after) / (2.0 * bend),
        # Slanted neighbours are the root of 2 away; squares of slopes fall twice as fast.
        fall=-bend / 2.0 / np.where(way % 2, 2.0, 1.0),
    )
