"""Decode a JPEG photo, with the warnings of its decoder.

Pillow drops the warnings of libjpeg, and with them every loss in the middle of a file: missing
data becomes grey or shifted pixels without any error. simplejpeg carries the same libjpeg-turbo,
gives the same pixels in three quarters of the time, and can stop at the first warning. Warnings
without any loss (filling before the end marker, odd versions) are recognised as such.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import simplejpeg
from PIL import Image

from worker.reference.jpeg.damage import readable_share
from worker.reference.jpeg.markers import Parts, as_decoders_take_it, brought_by, up_to_scan

#: How pixels of each mode are asked for; four bytes a pixel are Pillow's own and not copied.
_SPACES = {"L": "GRAY", "RGB": "RGBX", "CMYK": "CMYK"}
_CHANNELS = {"L": 1, "RGB": 4, "CMYK": 4}
_EXTRANEOUS = re.compile(r"(\d+) extraneous bytes before marker 0xd9")
#: A decoder reads some bytes ahead, which it does not count among those left over.
_READ_AHEAD = 16

Pixels = npt.NDArray[np.uint8]


class Undecodable(Exception):
    """The decoder gave up: nothing can be read."""


class _Unsupported(Exception):
    """The decoder does not know this kind of JPEG, which another may."""


@dataclass(frozen=True, kw_only=True)
class DecodedJpeg:
    """The picture, and how much of it could be read: 1 where nothing is missing."""

    image: Image.Image
    share: float


def decode(data: bytes, parts: Parts, header: Image.Image) -> DecodedJpeg:
    """Decode a photo as far as it can be read.

    Args:
        data: The file.
        parts: What it is made of.
        header: The same file, opened and not loaded, for its mode and size.

    Raises:
        Undecodable: Nothing can be read.
    """
    clean, before = as_decoders_take_it(data, parts), parts
    try:
        pixels, warning = _pixels(clean, header)
    except _Unsupported:
        header.load()
        return DecodedJpeg(image=header, share=parts.brought)
    except Undecodable:
        # A scan's header is what broke off: the scans before it are whole.
        count = _whole_scans(clean, parts)
        if not count:
            raise
        parts = replace(parts, scans=parts.scans[:count])
        pixels, warning = _pixels(up_to_scan(clean, before, count), header)
    share = 1.0
    if warning and not _is_padding(warning, data, parts):
        share = _share(clean, parts, pixels)
    share = min(share, parts.brought)
    if header.mode == "CMYK":
        # Inks are stored inverted: common practice since the first encoder that wrote them.
        np.invert(pixels, out=pixels)
    mode = "RGBX" if header.mode == "RGB" else header.mode
    image = Image.frombuffer(mode, header.size, pixels, "raw", mode, 0, 1)
    image.info = dict(header.info)
    return DecodedJpeg(image=image, share=share)


def _pixels(data: bytes, header: Image.Image) -> tuple[Pixels, str]:
    """All pixels, and the first warning or nothing."""
    width_px, height_px = header.size
    if header.mode not in _SPACES:
        raise _Unsupported
    pixels = np.empty((height_px, width_px, _CHANNELS[header.mode]), np.uint8)
    asked: dict[str, Any] = {"colorspace": _SPACES[header.mode], "buffer": pixels}
    try:
        simplejpeg.decode_jpeg(data, strict=True, **asked)
    except ValueError as error:
        # A warning or a fatal error: only decoding without strictness shows which.
        warning = str(error)
        try:
            simplejpeg.decode_jpeg(data, strict=False, **asked)
        except ValueError as fatal:
            if "subsampling" in str(fatal):
                raise _Unsupported from fatal
            raise Undecodable(str(fatal)) from fatal
        return pixels, warning
    return pixels, ""


def _is_padding(warning: str, data: bytes, parts: Parts) -> bool:
    """Whether all was read, and what is left over is a camera's filling before the end.

    One byte over and over is filling; but where it began long before what was left over, the
    decoder has taken some of it for pixels, and it stands where data should.
    """
    found = _EXTRANEOUS.search(warning)
    if found is None or parts.end is None:
        return False
    left_over = int(found[1])
    filler = data[parts.end - 1 : parts.end]
    before = data[: parts.end]
    length = len(before) - len(before.rstrip(filler))
    return left_over <= length <= left_over + _READ_AHEAD


def _share(data: bytes, parts: Parts, pixels: Pixels) -> float:
    if parts.progressive:
        return brought_by(parts, parts.scans[: _whole_scans(data, parts)])
    return readable_share(pixels, restarts=parts.restarts)


def _whole_scans(data: bytes, parts: Parts) -> int:
    """How many scans can be read without a warning, found by halving."""
    low, high = 0, len(parts.scans)
    while low + 1 < high:
        middle = (low + high) // 2
        try:
            simplejpeg.decode_jpeg(
                up_to_scan(data, parts, middle), "GRAY", min_factor=8, strict=True
            )
        except ValueError:
            high = middle
        else:
            low = middle
    return low
