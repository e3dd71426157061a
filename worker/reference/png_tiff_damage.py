"""How much of a damaged PNG or TIFF file can be read.

`crc_share` looks at a PNG's own check sums, since decoders skip those of the pixel chunks and
take wrong bytes that still inflate for a picture. `load_truncated` decodes a file that ends
too early. JPEG has a package of its own (`worker.reference.jpeg`).
"""

from __future__ import annotations

import threading
import zlib
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageFile

_SIGNATURE_BYTES = 8
#: Pillow's switch for truncated files holds for the whole process: one thread at a time.
_PADDING = threading.Lock()
#: Columns in which a row is looked at.
_COLUMNS = 64


def crc_share(data: bytes) -> float:
    """The share of a PNG file before the first chunk that is wrong or missing, 0 to 1.

    Every chunk carries a CRC (ISO 15948, 5.3).

    Args:
        data: A file with a PNG's signature.
    """
    view, at = memoryview(data), _SIGNATURE_BYTES
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(view[at : at + 4], "big")
        if end + 4 > len(data):
            break
        if zlib.crc32(view[at + 4 : end]) != int.from_bytes(view[end : end + 4], "big"):
            return at / len(data)
        if data[at + 4 : at + 8] == b"IEND":
            return 1.0
        at = end + 4
    return min(at / len(data), 0.99)


def load_truncated(
    image: Image.Image, reopen: Callable[[], Image.Image]
) -> tuple[Image.Image, float]:
    """The loaded picture, and the share of its rows that could be read: 1 for all of them.

    Args:
        image: Opened and not loaded.
        reopen: Opens the same file once more.

    Raises:
        Exception: Whatever the decoder raises where nothing could be read.
    """
    try:
        image.load()
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - decoders raise a dozen kinds of error on bad bytes.
        with _PADDING:
            ImageFile.LOAD_TRUNCATED_IMAGES = True
            try:
                image = reopen()
                image.load()
            finally:
                ImageFile.LOAD_TRUNCATED_IMAGES = False
        return image, min(_rows_read(image), 0.99)
    return image, 1.0


def _rows_read(image: Image.Image) -> float:
    """The share of rows up to the last one that differs from the decoder's padding (zeros)."""
    columns = range(0, image.width, max(image.width // _COLUMNS, 1))
    samples = np.concatenate(
        [
            np.asarray(image.crop((x, 0, x + 1, image.height))).reshape(image.height, -1)
            for x in columns
        ],
        axis=1,
    )
    read = np.flatnonzero(samples.any(axis=1))
    return float((read[-1] + 1) / image.height) if read.size else 0.0
