"""Sound files of every kind that is read here, small, with what such files have in them."""

from __future__ import annotations

from functools import cache
from typing import Any

from PIL import Image, ImageCms
from skimage import data

from tests.unit.reference.samples import saved

#: Turned on its side (EXIF 2.32, tag 274).
_TURNED = 6


@cache
def samples() -> dict[str, bytes]:
    """Files by name; the astronaut that ships with scikit-image (NASA, public domain)."""
    colour = Image.fromarray(data.astronaut()).crop((150, 20, 310, 180)).resize((96, 72))
    grey = colour.convert("L")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exif = Image.Exif()
    exif[0x0112] = _TURNED
    described: dict[str, Any] = {"exif": exif.tobytes(), "icc_profile": profile}
    return {
        "jpeg": saved(colour, "JPEG", quality=85, **described),
        "progressive jpeg": saved(colour, "JPEG", quality=70, progressive=True),
        "grey jpeg": saved(grey, "JPEG", quality=60, restart_marker_rows=1),
        "cmyk jpeg": saved(colour.convert("CMYK"), "JPEG"),
        "png": saved(colour, "PNG", icc_profile=profile),
        "png with alpha": saved(colour.convert("RGBA"), "PNG"),
        "palette png": saved(colour.quantize(16), "PNG", transparency=3),
        "16 bit png": saved(grey.convert("I;16"), "PNG"),
        "webp": saved(colour, "WEBP", quality=60, **described),
        "lossless webp": saved(colour.convert("RGBA"), "WEBP", lossless=True),
        "moving webp": saved(colour, "WEBP", save_all=True, append_images=[colour.rotate(9)]),
        "tiff": saved(colour, "TIFF", icc_profile=profile),
        "lzw tiff": saved(colour, "TIFF", compression="tiff_lzw"),
        "deflate tiff": saved(grey, "TIFF", compression="tiff_adobe_deflate"),
        "cmyk tiff": saved(colour.convert("CMYK"), "TIFF", compression="packbits"),
        "jpeg tiff": saved(colour, "TIFF", compression="jpeg"),
        "tiff of two": saved(colour, "TIFF", save_all=True, append_images=[grey]),
        "heic": saved(colour, "HEIF", quality=60, **described),
        "grey heic": saved(grey, "HEIF", quality=60),
        "avif": saved(colour, "AVIF", quality=60, **described),
        "avif with alpha": saved(colour.convert("RGBA"), "AVIF", quality=50),
    }
