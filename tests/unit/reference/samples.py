"""Pictures, files and colour profiles for the imaging tests, all made in code."""

from __future__ import annotations

import io
import struct
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pillow_heif
import skimage.color
from PIL import Image

from tests.unread import without_reading
from worker.layout.planning import plan_sheets
from worker.reference.colour.srgb import encode_srgb
from worker.reference.decode import Limits
from worker.reference.detail_map import line_density
from worker.reference.intake import IntakeResult, take_in
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.spec.study import DetailLevel, ReferenceStudy

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]


def quarters(width_px: int = 96, height_px: int = 64) -> Image.Image:
    """A picture whose four corners tell how it is turned: red, green, blue, yellow."""
    picture = Image.new("RGB", (width_px, height_px))
    middle_x, middle_y = width_px // 2, height_px // 2
    for colour, box in (
        ("red", (0, 0, middle_x, middle_y)),
        ("lime", (middle_x, 0, width_px, middle_y)),
        ("blue", (0, middle_y, middle_x, height_px)),
        ("yellow", (middle_x, middle_y, width_px, height_px)),
    ):
        picture.paste(colour, box)
    return picture


def saved(picture: Image.Image, kind: str, **options: Any) -> bytes:
    """The picture as a file of this kind."""
    file = io.BytesIO()
    if kind == "HEIF":
        pillow_heif.from_pillow(picture).save(file, **options)
    else:
        picture.save(file, kind, **options)
    return file.getvalue()


def taken(data: bytes, folder: Path, **limits: int) -> IntakeResult:
    """Take these bytes in."""
    return take_in(io.BytesIO(data), folder, Limits(**limits))


def taken_unread(data: bytes, folder: Path, **limits: int) -> IntakeResult:
    """Take these bytes in for a test of what the reading does not touch."""
    with without_reading():
        return taken(data, folder, **limits)


def planned(spec: Spec, width_px: int, height_px: int) -> Plan:
    """The plan for a reference of this size; where its lines are does not matter."""
    with ThreadPoolExecutor(1) as pool:
        density = line_density(Image.new("L", (64, 64), "white"), pool)
    level = DetailLevel(density=density, pixel_size_px=max(width_px, height_px) / 64)
    study = ReferenceStudy(
        width_px=width_px,
        height_px=height_px,
        levels=(level,),
        thumb=np.full((20, 30), 128, np.uint8),
    )
    return plan_sheets(spec, study)


def exact_grey(values: Bytes) -> Floats:
    """Luminance by scikit-image's XYZ, encoded by the standard's curve.

    `rgb2xyz` is taken and not `rgb2gray`, which weighs encoded values with the older
    phosphors' weights and is no luminance.
    """
    return 255.0 * encode_srgb(skimage.color.rgb2xyz(values)[..., 1])


def matrix_profile(red: Floats, green: Floats, blue: Floats) -> bytes:
    """An ICC profile of three primaries (XYZ, adapted to D50) with the sRGB curve.

    ICC.1:2010: header 7.2, XYZType 10.31, parametricCurveType 10.16 (function type 3).
    """
    curve = b"para" + bytes(4) + struct.pack(">HH", 3, 0)
    curve += b"".join(_s15(v) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
    tags = {b"wtpt": _xyz((0.9642, 1.0, 0.8249))}
    for name, colour in ((b"r", red), (b"g", green), (b"b", blue)):
        tags[name + b"XYZ"] = _xyz(colour)
        tags[name + b"TRC"] = curve
    return _profile(b"RGB ", b"XYZ ", tags)


def ink_profile(solids_lab: dict[int, tuple[float, float, float]]) -> bytes:
    """An ICC profile for CMYK: Lab for each of the 16 overprints, by their four bits.

    ICC.1:2010 lut8Type 10.9, with two grid points for each ink.
    """
    table = b"mft1" + bytes(4) + bytes([4, 3, 2, 0])
    table += b"".join(_s15(v) for v in (1, 0, 0, 0, 1, 0, 0, 0, 1))
    table += bytes(range(256)) * 4
    for bits in range(16):
        lightness, a, b = solids_lab.get(bits, (10.0, 0.0, 0.0))
        table += bytes([round(lightness * 2.55), round(a + 128), round(b + 128)])
    table += bytes(range(256)) * 3
    return _profile(b"CMYK", b"Lab ", {b"wtpt": _xyz((0.9642, 1.0, 0.8249)), b"A2B0": table})


def _profile(space: bytes, connection: bytes, tags: dict[bytes, bytes]) -> bytes:
    text = "test".encode("utf-16-be")
    words = b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28) + text
    tags = {**tags, b"desc": words, b"cprt": words}
    body, index = b"", b""
    at = 128 + 4 + 12 * len(tags)
    for name, value in tags.items():
        padded = value + bytes(-len(value) % 4)
        index += name + struct.pack(">II", at + len(body), len(value))
        body += padded
    device = b"prtr" if space == b"CMYK" else b"mntr"
    head = struct.pack(
        ">I4sI", at + len(body), bytes(4), 0x02400000 if connection == b"Lab " else 0x04200000
    )
    head += device + space + connection + bytes(12) + b"acsp" + bytes(28)
    head += _s15(0.9642) + _s15(1.0) + _s15(0.8249) + bytes(48)
    return head + struct.pack(">I", len(tags)) + index + body


def _xyz(values: Any) -> bytes:
    return b"XYZ " + bytes(4) + b"".join(_s15(value) for value in values)


def _s15(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))
