"""Which contours a division into tones would swallow.

Otsu's thresholds follow the many: a large light wall takes them, and all that is dark becomes
one tone, with the contours in it. Each contour parts a darker from a lighter side; a threshold is
the better the more contours it has between their sides (Kohler 1981). A contour whose two sides
lie in one class is lost, and how many each class would lose is a sum over classes, as Otsu's
criterion is. So both are optimised together, exactly.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.tones.edge_preserving import FINE, Bytes, Fine

Floats = npt.NDArray[np.float64]

#: Below this, of 255, a contour is not counted.
_LEAST = 96
#: Sides closer than this, in greys, are not told apart for sure.
_LEAST_STEP = 6
#: How far from a contour its sides are looked for, in pixels of the contour map.
_REACH_PX = 3
#: A threshold keeps this share of a contour's step away from either side.
_CLEAR = 0.25
#: What losing all contours weighs, in shares of the whole variance; less where hardly any of the
#: picture is contour.
_WEIGHT, _ENOUGH = 0.1, 0.005
#: What is lost in the light can be drawn by eye, what is lost in black cannot: a contour counts
#: by this power of how far its lighter side is from white, where the darkest grey is 1.
_DARKNESS = 4
_GREYS = 256


def contours_lost(fine: Fine, contour: Bytes) -> Floats | None:
    """What a class of greys costs that swallows contours, in shares of the variance.

    Args:
        fine: Smoothed greys of the picture, in 256ths.
        contour: (rows, columns) over the same picture, at any resolution: how likely a
            contour passes.

    Returns:
        (257, 257): for a class from grey i up to, but without, grey j; None where there are no
        contours.
    """
    here = contour >= _LEAST
    size = (contour.shape[1], contour.shape[0])
    grey = Image.fromarray((fine // FINE).astype(np.uint8)).resize(size, Image.Resampling.BOX)
    greys = np.asarray(grey)
    dark, light = (_around(greys, pick)[here].astype(np.int64) for pick in (np.minimum, np.maximum))
    # Lightening squeezes all greys into the light; what a contour is worth stays.
    span = max(255.0 - float(greys.min()), 1.0)
    step = light - dark
    told = step >= _LEAST_STEP * span / 255.0
    if not told.any():
        return None
    clear = np.ceil(step * _CLEAR).astype(np.int64)
    weight: Floats = np.asarray(((255.0 - light[told]) / span) ** _DARKNESS, np.float64)
    dark, light = (dark + clear)[told], (light - clear)[told]
    share = _WEIGHT * min(here.mean() / _ENOUGH, 1.0)
    lost: Floats = _inside(dark, light, weight) * (share / weight.sum())
    return lost


def _around(greys: Bytes, pick: np.ufunc) -> Bytes:
    """The darkest or lightest grey within reach."""
    for axis in (0, 1):
        pad = [(_REACH_PX, _REACH_PX) if each == axis else (0, 0) for each in (0, 1)]
        padded = np.pad(greys, pad, mode="edge")
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _REACH_PX + 1, axis)
        greys = pick.reduce(windows, axis=-1)
    return greys


def _inside(dark: npt.NDArray[np.int64], light: npt.NDArray[np.int64], weight: Floats) -> Floats:
    """How much contour has both sides in greys from i up to, but without, j."""
    counts = np.bincount(dark * _GREYS + light, weight, _GREYS * _GREYS)
    pairs = counts.reshape(_GREYS, _GREYS)
    inside = np.zeros((_GREYS + 1, _GREYS + 1))
    # Dark sides from i on, light sides below j.
    inside[:-1, 1:] = np.cumsum(np.cumsum(pairs[::-1], axis=0)[::-1], axis=1)
    return inside
