"""Convert pixels of any kind to sRGB, and sRGB to grey.

Grey is linear-light luminance (IEC 61966-2-1): two colours of the same luminance get the same
grey, as squinting shows. The usual weighting of encoded values does not do that.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reference.colour.profile import to_srgb_transform
from worker.reference.colour.sixteen_bit import to_eight_bits

#: Luminance of linear sRGB, IEC 61966-2-1 (the weights of ITU-R BT.709).
RED, GREEN, BLUE = 0.2126, 0.7152, 0.0722
#: Linear light is counted in so many steps: a step is 1/80 of the darkest grey level.
_STEPS = 65532

Convert = Callable[[Image.Image], Image.Image]


def decode_srgb(encoded: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Encoded values 0 to 1 to linear light, IEC 61966-2-1."""
    curve = ((encoded + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, encoded / 12.92, curve)  # noqa: PLR2004 - the standard's.


def encode_srgb(linear: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Linear light 0 to 1 to encoded values, IEC 61966-2-1."""
    curve = 1.055 * linear ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, linear * 12.92, curve)  # noqa: PLR2004 - the standard's.


@functools.cache
def _weighted_pairs() -> tuple[npt.NDArray[np.uint32], ...]:
    """For red, green and blue: the weighted linear light of two neighbouring values at once.

    Looking up pairs halves the number of look-ups, which is most of the time they take. As
    both sides are read through the same view, the order of bytes in memory does not matter.
    """
    pairs = np.arange(1 << 16, dtype=np.uint16).view(np.uint8).reshape(-1, 2)
    linear = decode_srgb(np.arange(256) / 255.0)
    tables = (np.rint(linear * weight * _STEPS).astype(np.uint16) for weight in (RED, GREEN, BLUE))
    return tuple(np.ascontiguousarray(table[pairs]).view(np.uint32).ravel() for table in tables)


@functools.cache
def _encoded() -> npt.NDArray[np.uint8]:
    linear = np.arange(1 << 16) / _STEPS
    return np.rint(255.0 * encode_srgb(np.minimum(linear, 1.0))).astype(np.uint8)


def luminance(picture: Image.Image) -> Image.Image:
    """The linear-light luminance of an sRGB picture, encoded again with the sRGB curve.

    Args:
        picture: Mode RGB. Best a tile: what is worked on should fit the processor's cache.

    Returns:
        Mode L, within one level of an exact computation.
    """
    count = picture.width * picture.height
    total = np.zeros(count + count % 2, np.uint16)
    for band, pairs in zip(picture.split(), _weighted_pairs(), strict=True):
        values = np.frombuffer(band.tobytes() + bytes(count % 2), np.uint16)
        # Every index is within the table; "clip" only spares the check and a copy.
        total += np.take(pairs, values, mode="clip").view(np.uint16)
    grey = np.take(_encoded(), total[:count], mode="clip")
    return Image.frombuffer("L", picture.size, grey, "raw", "L", 0, 1)


def converter(picture: Image.Image) -> Convert:
    """How parts of this decoded picture become sRGB.

    Alpha is flattened on white, as on paper. Profiles that cannot be used are taken for
    sRGB (CMYK: for plain inks).

    Returns:
        A function, safe in threads, from a part of `picture` to mode RGB, or to mode L if
        the picture has no colour.
    """
    eight_bits = to_eight_bits(picture)
    sample = _plain(eight_bits(picture.crop((0, 0, 1, 1))))
    opaque = sample.mode.removesuffix("A")
    transform = to_srgb_transform(picture.info.get("icc_profile"), opaque)

    def convert(part: Image.Image) -> Image.Image:
        part = _plain(eight_bits(part))
        alpha = part.getchannel("A") if part.mode.endswith("A") else None
        colours = part if alpha is None else part.convert(opaque)
        colours = transform(colours)
        if alpha is None:
            return colours
        white = Image.new(colours.mode, colours.size, "white")
        return Image.composite(colours, white, alpha)

    return convert


def _plain(part: Image.Image) -> Image.Image:
    """Without palette, keyed transparency or rarer modes: L, LA, RGB, RGBA, CMYK or LAB."""
    mode = part.mode
    if "transparency" in part.info and mode in {"1", "L", "P", "RGB"}:
        return part.convert("LA" if mode in {"1", "L"} else "RGBA")
    if mode in {"L", "LA", "RGB", "RGBA", "CMYK", "LAB"}:
        return part
    if mode in {"P", "PA"}:
        # A palette may carry alpha of its own.
        keyed = mode == "PA" or (part.palette is not None and part.palette.mode == "RGBA")
        return part.convert("RGBA" if keyed else "RGB")
    return part.convert({"1": "L", "La": "LA", "RGBa": "RGBA"}.get(mode, "RGB"))
