"""Pictures of a few flat tones as indexed images, without loss.

JPEG would blur every border between two tones, and spend most of its bytes there. With 16
tones or fewer a pixel takes 4, 2 or 1 bits of an Indexed colour space (ISO 32000-1, 8.6.6.3),
and Flate compresses flat areas to some tens of kilobytes a sheet. (A predictor would save
another eighth, and cost each reader another step.)
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

Bytes = npt.NDArray[np.uint8]

#: Pixels that are packed at once: a large picture is never held twice.
_STRIP_PIXELS = 1 << 20
#: zlib's own default.
_DEFLATE_LEVEL = 6


@dataclass(frozen=True, kw_only=True)
class IndexedImage:
    """A grey picture, encoded for a PDF.

    Attributes:
        content: Rows of packed pixels, deflated.
        size_px: Width and height.
        greys: The tones that pixels are indices into, dark to light; empty where there are
            more than 16, and each byte is the grey itself.
        bits: Bits of a pixel: 1, 2, 4 or 8.
    """

    content: bytes
    size_px: tuple[int, int]
    greys: tuple[int, ...]
    bits: int

    @property
    def colour_space(self) -> str:
        """As it stands in the PDF; hexadecimal, so that nothing in it looks like PDF."""
        if not self.greys:
            return "/DeviceGray"
        return f"[/Indexed /DeviceGray {len(self.greys) - 1} <{bytes(self.greys).hex()}>]"


def index_image(picture: Image.Image) -> IndexedImage:
    """Encode a grey picture without loss; one with few flat tones becomes small.

    Args:
        picture: Mode L.
    """
    tones = [grey for grey, pixels in enumerate(picture.histogram()) if pixels]
    bits = next(bits for bits in (1, 2, 4, 8) if len(tones) <= 1 << bits)
    greys = tuple(tones) if bits < 8 else ()  # noqa: PLR2004 - a byte is a grey as it is.
    packer = zlib.compressobj(_DEFLATE_LEVEL)
    packed = [packer.compress(rows.tobytes()) for rows in _rows(picture, greys, bits)]
    content = b"".join([*packed, packer.flush()])
    return IndexedImage(content=content, size_px=picture.size, greys=greys, bits=bits)


def _rows(picture: Image.Image, greys: tuple[int, ...], bits: int) -> Iterator[Bytes]:
    """Strips of the picture as a PDF stores them: each row begins with a new byte."""
    number = np.arange(256, dtype=np.uint8)
    number[list(greys)] = np.arange(len(greys))
    most = max(_STRIP_PIXELS // picture.width, 1)
    for top in range(0, picture.height, most):
        box = (0, top, picture.width, min(top + most, picture.height))
        yield _packed(number[np.asarray(picture.crop(box))], bits)


def _packed(pixels: Bytes, bits: int) -> Bytes:
    """Several pixels to a byte, the first in the highest bits (ISO 32000-1, 8.9.3)."""
    each = 8 // bits
    short = -pixels.shape[1] % each
    pixels = np.pad(pixels, ((0, 0), (0, short))).reshape(pixels.shape[0], -1, each)
    packed = np.zeros(pixels.shape[:2], np.uint8)
    for place in range(each):
        packed |= pixels[:, :, place] << np.uint8(8 - bits * (place + 1))
    return packed
