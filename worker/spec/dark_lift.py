"""Lifting darks where a contour would drown in them.

A dark cup before a dark wall is black in print on both sides of its edge, and nothing can be
traced. So the greys of such places are spread by one curve, which stretches the darks and leaves
what is light alone. How far it is followed at a place is a smooth map over the whole picture: a
plateau about contours whose two sides are dark, which fades over centimetres. The curve rises
everywhere and the map has no edges of its own, so nothing overshoots beside an edge and no light
fringe follows it: what would have to change abruptly, the light side, does not change at all. An
edge-preserving map would have to meet every edge to the pixel for that.

Pieces, previews and the estimate of ink use the same map and curve.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

#: The longer side of the map.
LIFT_PX = 256
#: Greys from here on are left alone.
_KNEE = 144.0
#: By how much the slope of the curve at black exceeds 1; it is 1 again at 0.4 of the knee.
_STRETCH = 1.25
#: A contour drowns wholly where its lighter side is no lighter than the first grey, and not at
#: all from the second on: L* 19 and 33, within two steps of Munsell's scale of black.
_DROWNS, _STANDS = 46.0, 78.0
#: Below the first, of 1, a contour of the reduced map is none; from the second on it is sure.
_FAINT, _SURE = 0.15, 0.45
#: How far a contour's sides are looked for, and how far the plateau reaches about it and then
#: fades, in pixels of the map: 5 and 14 mm on 600.
_SIDES_PX, _ABOUT_PX = 2, 6
_BOXES = 3


def lift_curve() -> Bytes:
    """The lifted value of each of the 256 grey values; (256,), rising."""
    grey = np.arange(256, dtype=np.float64)
    lifted = grey * (1.0 + _STRETCH) / (1.0 + _STRETCH * grey / _KNEE)
    return np.rint(np.where(grey < _KNEE, lifted, grey)).astype(np.uint8)


def lift_map(contour: Bytes, grey: Bytes) -> Bytes:
    """How far the curve is followed, 0 to 255.

    Args:
        contour: (rows, columns) over the whole upright reference: how likely a contour passes.
        grey: Its grey values, at any resolution.

    Returns:
        (rows, columns) over the reference, the longer side at most `LIFT_PX`.
    """
    share = min(LIFT_PX / max(grey.shape), 1.0)
    shape = tuple(max(round(side * share), 1) for side in grey.shape)
    likely = _reduced(contour, shape) / 255.0
    lighter = _highest(_reduced(grey, shape), _SIDES_PX)
    sure = np.clip((likely - _FAINT) / (_SURE - _FAINT), 0.0, 1.0)
    drowned = np.clip((_STANDS - lighter) / (_STANDS - _DROWNS), 0.0, 1.0)
    # Twice as far as it fades: the plateau reaches so far about a contour.
    wanted = _highest(sure * drowned, 2 * _ABOUT_PX)
    for _ in range(_BOXES):
        wanted = _mean(_mean(wanted, _ABOUT_PX).T, _ABOUT_PX).T
    return np.rint(np.clip(wanted, 0.0, 1.0) * 255.0).astype(np.uint8)


def _reduced(values: Bytes, shape: tuple[int, ...]) -> Floats:
    """Means over the cells of a coarser grid; where it is finer, values are repeated."""
    sums: npt.NDArray[np.integer] = values
    cells = np.ones((1, 1))
    for axis, side in enumerate(shape):
        length = values.shape[axis]
        starts = np.arange(side) * length // side
        counts = np.maximum(np.diff(starts, append=length), 1)
        cells = cells * (counts[:, np.newaxis] if axis == 0 else counts)
        sums = np.add.reduceat(sums, starts, axis, dtype=np.int32)
    means: Floats = sums / cells
    return means


def _highest(values: Floats, reach: int) -> Floats:
    """The highest value in the square around each."""
    for axis in (0, 1):
        pad = [(reach, reach) if each == axis else (0, 0) for each in (0, 1)]
        padded = np.pad(values, pad, mode="edge")
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1, axis)
        values = windows.max(axis=-1)
    return values


def _mean(values: Floats, reach: int) -> Floats:
    """The mean down columns of the cells around each."""
    padded = np.pad(values, ((reach + 1, reach), (0, 0)), mode="edge")
    sums = np.cumsum(padded, axis=0)
    means: Floats = (sums[2 * reach + 1 :] - sums[: -2 * reach - 1]) / (2 * reach + 1)
    return means
