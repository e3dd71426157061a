"""The darkroom: lens, exposure, tone curve, grain, and the JPEG with its colour profile."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms

from atelier.vectors import Floats

#: Pixels of picture that the lens blurs in from beyond a tile's edge.
APRON = 2
_EXPOSURE = 2.6
_GRAIN = 0.011
_LENS = (0.12, 0.76, 0.12)


def _soften(picture: Floats, kernel: tuple[float, float, float]) -> Floats:
    """The same 3-tap kernel across and down; loses one pixel on every side."""
    a, b, c = (np.float32(k) for k in kernel)
    across = a * picture[..., :-2] + b * picture[..., 1:-1] + c * picture[..., 2:]
    return np.asarray(a * across[..., :-2, :] + b * across[..., 1:-1, :] + c * across[..., 2:, :])


def _tone(linear: Floats) -> Floats:
    """Film-like curve: toe, nearly straight middle, long shoulder; sRGB-encoded 0 to 1."""
    x = np.maximum(linear, 0) * np.float32(_EXPOSURE)
    shoulder = np.where(x > 0.45, 0.45 + 0.55 * (1 - np.exp(-(x - 0.45) / 0.55)), x)
    toe = shoulder - 0.010 * np.exp(-shoulder / 0.025)
    safe = np.clip(toe, 0, 1)
    # IEC 61966-2-1, the sRGB transfer function.
    encoded = np.where(safe < 0.0031308, 12.92 * safe, 1.055 * safe ** (1 / 2.4) - 0.055)
    return np.asarray(encoded, dtype=np.float32)


def _vignette(box: tuple[int, int, int, int], width: int, height: int) -> Floats:
    """The lens loses a little light towards the corners."""
    left, top, right, bottom = box
    x = (np.arange(left, right, dtype=np.float32) + 0.5) / width - 0.5
    y = ((np.arange(top, bottom, dtype=np.float32) + 0.5) / height - 0.5) * (height / width)
    return np.asarray(1 / (1 + 0.55 * (x[None, :] ** 2 + y[:, None] ** 2)) ** 2, dtype=np.float32)


def develop(
    linear: Floats, box: tuple[int, int, int, int], width: int, height: int
) -> npt.NDArray[np.uint8]:
    """8-bit pixels (rows, columns, 3) of a tile whose linear picture has an apron around it."""
    soft = _soften(linear, _LENS)[..., 1:-1, 1:-1]
    encoded = _tone(soft * _vignette(box, width, height))
    chance = np.random.default_rng((7, box[0], box[1]))
    rows, columns = box[3] - box[1], box[2] - box[0]
    shared = chance.standard_normal((rows + 2, columns + 2), dtype=np.float32)
    own = chance.standard_normal((3, rows, columns), dtype=np.float32) * np.float32(0.25)
    grain = _soften(shared[None], (0.25, 0.9, 0.25)) + own
    depth = _GRAIN * (0.45 + 1.1 * encoded * (1 - encoded) * 2)
    return np.asarray(
        np.clip((encoded + grain * depth) * 255 + 0.5, 0, 255).astype(np.uint8).transpose(1, 2, 0)
    )


def srgb_profile() -> bytes:
    """An sRGB profile with its date set to a fixed one, so that the file never changes."""
    raw = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1:2022, 7.2: bytes 24 to 35 of the header are the date and time.
    raw[24:36] = bytes((7, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0))
    return bytes(raw)


def save(picture: npt.NDArray[np.uint8], path: Path) -> int:
    """Write the photograph, and say how many bytes it has."""
    buffer = BytesIO()
    Image.fromarray(picture).save(
        buffer, "JPEG", quality=92, subsampling=0, optimize=True, icc_profile=srgb_profile()
    )
    return path.write_bytes(buffer.getvalue())
