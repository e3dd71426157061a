"""What kind of file was sent, by its first bytes and never by its name.

Names can be wrong, and as few decoders as possible should see a stranger's bytes. Kinds that
people send by mistake are recognised too, so that the refusal can name them.
"""

from __future__ import annotations

from typing import Literal

from worker.errors import ReferenceType

Kind = Literal["jpeg", "png", "webp", "tiff", "heic", "avif"]

#: How many first bytes are looked at; the brands of an ISO file type box fit in.
HEAD_BYTES = 64
ACCEPTED = "JPEG, PNG, WebP, TIFF, HEIC or AVIF"

#: Signatures: JPEG ITU-T T.81 B.1, PNG ISO 15948 5.2, TIFF 6.0 section 2 and its 64-bit
#: successor.
_STARTS: tuple[tuple[bytes, Kind], ...] = (
    (b"\xff\xd8\xff", "jpeg"),
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"II*\x00", "tiff"),
    (b"MM\x00*", "tiff"),
    (b"II+\x00", "tiff"),
    (b"MM\x00+", "tiff"),
)
#: Brands of the ISO base media file format: HEIF ISO 23008-12 annex B, AV1 Image File
#: Format 1.1 section 6.
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"})
_AVIF_BRANDS = frozenset({b"avif", b"avis"})
#: What is often sent instead, so that the refusal can name it.
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"GIF8", "a GIF"),
    (b"BM", "a BMP picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive or an office document"),
    (b"8BPS", "a layered painting file"),
    (b"<svg", "an SVG drawing"),
    (b"<?xml", "an XML or SVG file"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"),
    (b"FUJIFILM", "a camera's raw file"),
)


def kind_of(head: bytes) -> Kind:
    """The kind of picture that begins with these bytes.

    Raises:
        ReferenceType: It is none of the kinds that are read here.
    """
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "webp"
    if head[4:8] == b"ftyp":
        return _kind_of_boxes(head)
    raise _refusal(_name_of_other(head))


def camera_raw() -> ReferenceType:
    """The refusal of a raw file, which looks like TIFF but is not one."""
    return _refusal("a camera's raw file")


def _kind_of_boxes(head: bytes) -> Kind:
    """HEIC or AVIF, by the brands of the file type box."""
    size = min(int.from_bytes(head[:4], "big"), HEAD_BYTES)
    # The minor version, bytes 12 to 15, lies between the major brand and the others.
    brands = [head[8:12], *(head[at : at + 4] for at in range(16, size, 4))]
    for brand in brands:
        if brand in _AVIF_BRANDS:
            return "avif"
        if brand in _HEIC_BRANDS:
            return "heic"
    raise _refusal("a video or a sound file")


def _name_of_other(head: bytes) -> str:
    for start, name in _OTHERS:
        if head.startswith(start):
            return name
    if head.isascii() and min(head, default=0) >= ord("\t"):
        return "text and not a picture"
    return "no picture of a kind that is read here"


def _refusal(found: str) -> ReferenceType:
    return ReferenceType(
        f"The file is {found}. Save the photo as {ACCEPTED} and send that.", field="file"
    )
