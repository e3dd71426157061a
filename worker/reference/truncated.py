"""Load a picture that breaks off as far as it goes.

The imaging library refuses one, or pads it, by a switch that holds for the whole process. It is
on only while such a picture is loaded again, by one thread at a time.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageFile

_PADDING = threading.Lock()
#: A row is looked at in so many places.
_SPOTS = 64


def load_as_far_as_it_goes(
    image: Image.Image, again: Callable[[], Image.Image]
) -> tuple[Image.Image, float]:
    """The loaded picture, and the share of its rows that could be read; 1 for all.

    Args:
        image: Opened and not loaded.
        again: Opens the same file once more.

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
                image = again()
                image.load()
            finally:
                ImageFile.LOAD_TRUNCATED_IMAGES = False
        return image, min(_rows_read(image), 0.99)
    return image, 1.0


def _rows_read(image: Image.Image) -> float:
    """Rows up to the last one that is not as the library fills what it could not read."""
    columns = range(0, image.width, max(image.width // _SPOTS, 1))
    spots = np.concatenate(
        [
            np.asarray(image.crop((x, 0, x + 1, image.height))).reshape(image.height, -1)
            for x in columns
        ],
        axis=1,
    )
    read = np.flatnonzero(spots.any(axis=1))
    return float((read[-1] + 1) / image.height) if read.size else 0.0
