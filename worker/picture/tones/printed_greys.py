"""Which grey each tone is printed in.

The lightest is the paper itself, the darkest keeps the mean grey of what it stands for, and
the others lie between these two as their means lie in the picture, in steps of lightness
(L* of CIE 1976): the order and the intervals of the light are kept, whether the photo was
bright or dull. No two lie closer than 10 L*, one step of Munsell's value scale, by which
painters grade their greys. That is common practice for a step scale: ten steps from black
to paper are told apart from any office printer, twenty are not from many. Seven tones take
60 of the 100 L* that there are.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from worker.reference.colour.srgb import decode_srgb, encode_srgb

#: One step of Munsell value (ASTM D1535: value V lies near L* = 10 V).
STEP_L = 10.0
_PAPER_L = 100.0
#: CIE 15: where the cube root of L* gives way to a straight line.
_KNEE, _SLOPE = 216 / 24389, 24389 / 27


def print_greys(means: npt.NDArray[np.float64]) -> tuple[int, ...]:
    """The greys of tones, 0 to 255 in sRGB, dark to light.

    Args:
        means: (tones,) mean grey of each, rising.

    Returns:
        As many greys; the last is 255.
    """
    wished = lightness(means)
    darkest, span = wished[0], max(wished[-1] - wished[0], STEP_L)
    wished = darkest + (wished - darkest) * (_PAPER_L - darkest) / span
    wished[-1] = _PAPER_L
    for lighter in range(len(wished) - 1, 0, -1):
        wished[lighter - 1] = min(wished[lighter - 1], wished[lighter] - STEP_L)
    wished[0] = max(wished[0], 0.0)
    for darker in range(len(wished) - 1):
        wished[darker + 1] = max(wished[darker + 1], wished[darker] + STEP_L)
    return tuple(int(grey) for grey in np.rint(grey_of(wished)))


def class_means(
    histogram: npt.NDArray[np.int64], thresholds: tuple[float, ...]
) -> npt.NDArray[np.float64]:
    """The mean grey of each class; of one that is empty, the middle of its range.

    Args:
        histogram: (256,) counts.
        thresholds: In greys, rising; a class reaches up to its threshold.
    """
    ends = [-0.5, *thresholds, 255.5]
    grey = np.arange(256)
    means = []
    for low, high in itertools.pairwise(ends):
        inside = (grey > low) & (grey <= high)
        count = histogram[inside].sum()
        middle = (max(low, 0.0) + min(high, 255.0)) / 2
        means.append((histogram[inside] * grey[inside]).sum() / count if count else middle)
    return np.array(means, np.float64)


def lightness(grey: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """L* (CIE 15) of greys in sRGB (IEC 61966-2-1), 0 to 255."""
    linear = decode_srgb(np.asarray(grey, np.float64) / 255.0)
    return np.where(linear > _KNEE, 116.0 * np.cbrt(linear) - 16.0, _SLOPE * linear)


def grey_of(lightness_l: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The grey in sRGB that has this L*."""
    low = lightness_l <= _KNEE * _SLOPE
    linear = np.where(low, lightness_l / _SLOPE, ((lightness_l + 16.0) / 116.0) ** 3)
    return np.clip(encode_srgb(np.maximum(linear, 0.0)) * 255.0, 0.0, 255.0)
