"""Photographs that come with scikit-image and scikit-learn, for tests and benchmark.

Open data from outside the project: what they show was not chosen by us.
"""

from __future__ import annotations

import functools
import importlib.util
import io
from pathlib import Path

import numpy as np
import numpy.typing as npt
import skimage.data
from PIL import Image

Bytes = npt.NDArray[np.uint8]

#: Pictures that someone might draw from; textures and test cards are left out.
_SKIMAGE = (
    "astronaut",
    "camera",
    "cat",
    "coffee",
    "coins",
    "hubble_deep_field",
    "immunohistochemistry",
    "moon",
    "retina",
    "rocket",
)
_SKLEARN = ("china.jpg", "flower.jpg")
#: Of all of them, for whoever needs no pixels yet.
NAMES = (*_SKIMAGE, *(name.removesuffix(".jpg") for name in _SKLEARN))


def photographs() -> dict[str, Bytes]:
    """Name to (rows, columns) or (rows, columns, 3) of 8-bit values."""
    return {name: photograph(name) for name in NAMES}


@functools.cache
def photograph(name: str) -> Bytes:
    """One of them, read once; nobody may write into it."""
    values = _of_sklearn(name) if f"{name}.jpg" in _SKLEARN else getattr(skimage.data, name)()
    picture = np.array(values)
    picture.flags.writeable = False
    return picture


def _of_sklearn(name: str) -> Image.Image:
    """The file as it is: the package, whose import takes a second, would do no more with it."""
    package = importlib.util.find_spec("sklearn")
    assert package is not None
    assert package.origin is not None
    return Image.open(Path(package.origin).parent / "datasets" / "images" / f"{name}.jpg")


def enlarged(photo: Bytes, width_px: int, height_px: int) -> Image.Image:
    """A photograph cropped to a proportion and enlarged to a camera's pixel count.

    A little grain is added, as a camera would, so that nothing gains from smoothness.
    """
    image = Image.fromarray(photo).convert("RGB")
    scale = max(width_px / image.width, height_px / image.height)
    size = (width_px / scale, height_px / scale)
    left, top = (image.width - size[0]) / 2, (image.height - size[1]) / 2
    box = (left, top, left + size[0], top + size[1])
    large = image.resize((width_px, height_px), Image.Resampling.BICUBIC, box=box)
    grain = np.random.default_rng(1).normal(0, 2.0, (height_px, width_px, 1))
    return Image.fromarray(np.clip(np.asarray(large) + grain, 0, 255).astype(np.uint8))


def as_jpeg(image: Image.Image, quality: int = 92) -> bytes:
    """The picture as a camera would send it."""
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=quality)
    return buffer.getvalue()


def as_png(photo: Bytes) -> bytes:
    """The picture without loss, and hardly compressed: that takes most of the time."""
    buffer = io.BytesIO()
    Image.fromarray(photo).save(buffer, "PNG", compress_level=1)
    return buffer.getvalue()
