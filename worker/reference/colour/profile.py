"""Colour profiles: from the ICC profile in a photo to sRGB.

A broken or unsuitable profile is no reason to refuse a photo: the picture is then treated as
sRGB, or as plain inks where it is CMYK.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import numpy as np
from PIL import Image, ImageCms

#: The colour space signature (ICC.1:2010 table 19) that fits each mode.
_SPACES = {"L": "GRAY", "RGB": "RGB", "CMYK": "CMYK", "LAB": "Lab"}
#: A profile that moves no colour by more than this is sRGB under whatever name.
_SAME_LEVELS = 1
#: Steps of each primary in the colours that tell.
_CUBE_STEPS = 7

Transform = Callable[[Image.Image], Image.Image]


def to_srgb_transform(profile: bytes | None, mode: str) -> Transform:
    """The way from pixels of `mode` (L, RGB, CMYK, LAB) to sRGB.

    Args:
        profile: An ICC profile, or None.
        mode: What the pixels are.

    Returns:
        A function, safe in threads; it gives L for L and RGB for all others.
    """
    managed = _managed(profile, mode)
    if managed is None:
        return _unmanaged(mode)

    def transform(picture: Image.Image) -> Image.Image:
        converted = ImageCms.applyTransform(picture, managed)
        if converted is None:
            raise ImageCms.PyCMSError("nothing came back")
        # A grey profile gives neutral colours: one of the three is all of it.
        return converted.getchannel("G") if mode == "L" else converted

    return transform


def _unmanaged(mode: str) -> Transform:
    if mode in {"L", "RGB"}:
        return lambda picture: picture
    return lambda picture: picture.convert("RGB")


def _managed(profile: bytes | None, mode: str) -> ImageCms.ImageCmsTransform | None:
    """The colour-managed way, or None if there is none or if it would change nothing."""
    if not profile and mode != "LAB":
        return None
    try:
        transform = _build(profile or b"", mode)
        return None if _changes_nothing(transform, mode) else transform
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError, AttributeError):
        return None


def _build(profile: bytes, mode: str) -> ImageCms.ImageCmsTransform:
    source = (
        ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
        if mode == "LAB"
        else ImageCms.ImageCmsProfile(BytesIO(profile))
    )
    if source.profile.xcolor_space.strip() != _SPACES[mode]:
        raise ValueError("the profile is for another kind of pixels")
    # Relative colorimetric with black point compensation is common practice for photographs
    # on their way to a smaller space; it keeps the values that fit as they are.
    return ImageCms.buildTransform(
        source,
        ImageCms.createProfile("sRGB"),
        mode,
        "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )


def _changes_nothing(transform: ImageCms.ImageCmsTransform, mode: str) -> bool:
    """Whether the profile is sRGB by what it does, whatever it is called."""
    if mode not in {"L", "RGB"}:
        return False
    before = _telling_colours(mode)
    after = ImageCms.applyTransform(before, transform)
    if after is None:
        return False
    moved = np.abs(np.asarray(after, np.int16) - np.asarray(before.convert("RGB"), np.int16))
    return int(moved.max()) <= _SAME_LEVELS


def _telling_colours(mode: str) -> Image.Image:
    """Every grey, and for RGB a cube of colours: they show both curves and primaries."""
    greys = np.arange(256, dtype=np.uint8)
    if mode == "L":
        return Image.fromarray(greys[np.newaxis])
    steps = np.linspace(0, 255, _CUBE_STEPS).astype(np.uint8)
    cube = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)
    ramp = np.repeat(greys[:, np.newaxis], 3, axis=1)
    return Image.fromarray(np.concatenate([ramp, cube])[np.newaxis])
