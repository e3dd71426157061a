"""Samples of more than eight bits, scaled to eight: never clipped, as plain conversion does."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PIL import Image, TiffImagePlugin

_FULL_16 = 65535.0
_FULL_8 = 255.0
#: TIFF 6.0 BitsPerSample.
_BITS_PER_SAMPLE = 258


def to_eight_bits(picture: Image.Image) -> Callable[[Image.Image], Image.Image]:
    """How parts of `picture` become eight bits a sample; the range is that of the whole.

    16-bit samples run from black to white over their whole range (ISO 15948 12.4). Integers
    and floats without a declared range are fitted: to 1, 255 or 65535 where they stay
    within, otherwise from their darkest to their lightest value.
    """
    if not picture.mode.startswith(("I", "F")):
        return lambda part: part
    low, high = (0.0, _whole(picture)) if picture.mode.startswith("I;16") else _fitted(picture)

    def scale(part: Image.Image) -> Image.Image:
        samples = np.nan_to_num(np.asarray(part, np.float64), nan=low, posinf=high, neginf=low)
        shares = np.clip((samples - low) / (high - low), 0.0, 1.0)
        return Image.fromarray(np.rint(shares * _FULL_8).astype(np.uint8))

    return scale


def _whole(picture: Image.Image) -> float:
    """The value of white; scanners write 12 bits into 16."""
    if isinstance(picture, TiffImagePlugin.TiffImageFile):
        bits = int(picture.tag_v2.get(_BITS_PER_SAMPLE, (16,))[0])
        return float((1 << min(max(bits, 1), 16)) - 1)
    return _FULL_16


def _fitted(picture: Image.Image) -> tuple[float, float]:
    samples = np.asarray(picture)
    finite = samples[np.isfinite(samples)]
    if finite.size == 0:
        return 0.0, 1.0
    low, high = float(finite.min()), float(finite.max())
    if low >= 0.0:
        whole = (1.0, _FULL_8, _FULL_16) if picture.mode == "F" else (_FULL_8, _FULL_16)
        for white in whole:
            if high <= white:
                return 0.0, white
    return low, high if high > low else low + 1.0
