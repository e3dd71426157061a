"""Intake of a photo: write its master, study and preview, and nothing else of the file.

The decoded photo is turned upright and converted to sRGB part by part, as `write_reference`
requests them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from PIL import Image

from worker.reference.colour.srgb import Convert, converter
from worker.reference.decode import DecodedPhoto, Limits, decode_photo, read_within
from worker.reference.jpeg_encoder import ChromaSampling
from worker.reference.master import Box
from worker.reference.write_reference import chroma_sampling_of, write_reference
from worker.spec.study import ReferenceStudy

#: The transpose that undoes each EXIF orientation (EXIF 2.32, tag 274); then the orientations in
#: which the stored picture has its axes exchanged, and in which each axis runs backwards.
_TURNS: dict[int, Image.Transpose] = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_ON_SIDE = frozenset({5, 6, 7, 8})
_ACROSS_BACKWARDS = frozenset({2, 3, 7, 8})
_DOWN_BACKWARDS = frozenset({3, 4, 6, 7})


@dataclass(frozen=True, kw_only=True)
class IntakeResult:
    """The facts of a new reference.

    Attributes:
        width_px, height_px: Size of the upright reference.
        format: The kind of file that was sent.
        sha256: SHA-256 of the bytes that were sent.
        study: Its study.
    """

    width_px: int
    height_px: int
    format: str
    sha256: str
    study: ReferenceStudy


@dataclass(frozen=True)
class _Photo:
    """A decoded photo as a source of parts."""

    decoded: DecodedPhoto
    convert: Convert

    @property
    def size_px(self) -> tuple[int, int]:
        return self.decoded.upright_size_px

    @property
    def chroma_sampling(self) -> ChromaSampling:
        return chroma_sampling_of(self.decoded.kind)

    def part(self, box_px: Box) -> Image.Image:
        return self.convert(upright_part(self.decoded, box_px))


def take_in(
    source: BinaryIO,
    folder: Path,
    limits: Limits,
    *,
    threads: int = 2,
    accept_damaged: bool = False,
) -> IntakeResult:
    """Write `master.zip`, `study.npz` and `preview.jpg` into `folder`.

    Args:
        source: The file's bytes as they were sent.
        folder: Exists, and is the caller's to remove if this fails.
        limits: What is accepted.
        threads: How many work at once.
        accept_damaged: Take what could be read of a damaged photo as it is.

    Raises:
        PhotoError: One of its kinds; the photo cannot be used.
    """
    data = read_within(source, limits)
    decoded = decode_photo(data, limits, accept_damaged=accept_damaged)
    width_px, height_px = decoded.upright_size_px
    written = write_reference(_Photo(decoded, converter(decoded.image)), folder, threads=threads)
    return IntakeResult(
        width_px=width_px,
        height_px=height_px,
        format=decoded.kind,
        sha256=hashlib.sha256(data).hexdigest(),
        study=written.study,
    )


def upright_part(decoded: DecodedPhoto, box_px: tuple[int, int, int, int]) -> Image.Image:
    """A part of the photo turned upright; only that part is turned."""
    turn = _TURNS.get(decoded.orientation)
    if turn is None:
        return decoded.image.crop(box_px)
    spans = [(box_px[0], box_px[2]), (box_px[1], box_px[3])]
    if decoded.orientation in _ON_SIDE:
        spans.reverse()
    width_px, height_px = decoded.image.size
    (left, right), (top, bottom) = spans
    if decoded.orientation in _ACROSS_BACKWARDS:
        left, right = width_px - right, width_px - left
    if decoded.orientation in _DOWN_BACKWARDS:
        top, bottom = height_px - bottom, height_px - top
    return decoded.image.crop((left, top, right, bottom)).transpose(turn)
