"""Edge-preserving smoothing: grain that no brush would follow is removed, edges stay.

The guided filter (He, Sun and Tang 2010) with the picture as its own guide: where the greys
around a place differ by much more than `grain` they stay, where they differ by less they
become their mean. Where a contour runs, `grain` is less, so that also a soft or faint edge stays
(a weighted guided filter, Li, Zheng, Zhu, Yao and Wu 2015, whose weight here is the contour
instead of a local variance). It consists of box means, which are summed in the same order
wherever a strip begins; it runs in strips, so that a mural takes no more memory than a small
picture.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]
#: Smoothed greys, in 256ths: a slow gradient in whole greys would have terraces.
Fine = npt.NDArray[np.uint16]
FINE = 256

#: Cells that are smoothed at once.
_STRIP_CELLS = 1 << 18


#: What is left of the grain on a sure contour.
_GRAIN_ON_CONTOUR = 0.2


def guided_filter(grey: Bytes, radius: int, grain: float, contour: Bytes | None = None) -> Fine:
    """Keep edges, drop grain.

    Args:
        grey: (rows, columns).
        radius: Of the box in cells; 0 leaves all as it is.
        grain: Standard deviation, in greys, below which differences go.
        contour: The same shape: how likely a contour passes, 0 to 255; None: none does.

    Returns:
        The same shape, in 256ths of a grey.
    """
    fine = np.empty(grey.shape, np.uint16)
    rows, columns = grey.shape
    most = max(_STRIP_CELLS // columns, 4 * radius, 1)
    for top in range(0, rows, most):
        bottom = min(top + most, rows)
        # Means of means reach twice the radius.
        first, last = max(top - 2 * radius, 0), min(bottom + 2 * radius, rows)
        near = None if contour is None else contour[first:last]
        strip = _guided(grey[first:last].astype(np.float32), radius, _grain_at(grain, near))
        fine[top:bottom] = np.rint(strip[top - first : bottom - first] * FINE)
    return fine


def _grain_at(grain: float, contour: Bytes | None) -> Floats:
    """The grain at each cell: less along contours."""
    if contour is None:
        return np.full((1, 1), grain, np.float32)
    less = np.float32((1.0 - _GRAIN_ON_CONTOUR) / 255.0)
    return np.float32(grain) * (np.float32(1.0) - contour * less)


def _guided(grey: Floats, radius: int, grain: Floats) -> Floats:
    mean = box_mean(grey, radius)
    spread = box_mean(grey * grey, radius) - mean * mean
    slope: Floats = np.maximum(spread, np.float32(0.0))
    slope /= slope + grain * grain
    offset = mean - mean * slope
    kept: Floats = box_mean(slope, radius) * grey + box_mean(offset, radius)
    return np.clip(kept, 0.0, 255.0, out=kept)


def box_mean(values: Floats, radius: int) -> Floats:
    """Mean of the square of `2 * radius + 1` around each; edges are repeated outwards."""
    return _line_mean(_line_mean(values, radius).T, radius).T


def _line_mean(values: Floats, radius: int) -> Floats:
    """Mean along columns; one and the same order of sums, wherever a strip begins.

    Sums of two rows make those of four, these those of eight; a window of any height is put
    together from few of them.
    """
    rows, wide = values.shape[0], 2 * radius + 1
    doubled = np.pad(values, ((radius, radius), (0, 0)), mode="edge")
    total = np.zeros_like(values)
    start, size = 0, 1
    while size <= wide:
        if wide & size:
            total += doubled[start : start + rows]
            start += size
        doubled = doubled[:-size] + doubled[size:]
        size *= 2
    total /= np.float32(wide)
    return total
