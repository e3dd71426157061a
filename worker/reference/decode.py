"""Decode a photo of any accepted kind, or raise an error that says why it cannot be used.

The size in the header is checked before pixels are decoded, so that a file with too many
pixels costs nothing. Whatever a decoder raises or warns of becomes one of our errors here. The
readable share of a damaged photo is found by kind: JPEG by its decoder's warnings and pixels,
PNG by its check sums; WebP and AVIF notice only that a file ends early, not every wrong byte.
"""

from __future__ import annotations

import threading
import warnings
from dataclasses import dataclass
from io import BytesIO
from types import TracebackType
from typing import BinaryIO

import pillow_heif
from PIL import ExifTags, Image, TiffImagePlugin

from worker.errors import (
    PhotoError,
    ReferenceDamaged,
    ReferenceEmpty,
    ReferenceTooComplex,
    ReferenceTooLarge,
    ReferenceTooManyPixels,
    ReferenceTooSmall,
)
from worker.reference import jpeg
from worker.reference.png_tiff_damage import crc_share, load_truncated
from worker.reference.sniff import HEAD_BYTES, Kind, camera_raw, kind_of

#: The one decoder that may see each kind; HEIC has its own door.
_DECODERS: dict[Kind, str] = {
    "jpeg": "JPEG",
    "png": "PNG",
    "webp": "WEBP",
    "tiff": "TIFF",
    "avif": "AVIF",
}
#: EXIF 2.32 table 6, tag 274.
_ORIENTATIONS = range(1, 9)
#: TIFF 6.0 NewSubfileType, bit 0: "a reduced-resolution version of another image". A file
#: whose first image is one is a raw file that shows its preview.
_NEW_SUBFILE_TYPE = 254
_REDUCED = 1
#: The version tag of the open raw format that is built on TIFF.
_RAW_VERSION = 50706
#: A plan warns where two pixels make more than a millimetre (`layout.advice`): for a side of 60,
#: beyond 30 mm, which is less than the narrowest piece of any picture. So what is smaller fits no
#: support; these are icons and file managers' thumbnails, sent by mistake.
LEAST_SIDE_PX = 60
#: Less of a damaged photo than this shows nothing that could be taken as it is.
_LEAST_SHARE = 0.01


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What is accepted.

    Attributes:
        max_pixels: Most pixels of a photo.
        max_bytes: Most bytes of its file.
        min_side_px: Least pixels of the shorter side.
    """

    max_pixels: int = 60_000_000
    max_bytes: int = 40_000_000
    min_side_px: int = LEAST_SIDE_PX


@dataclass(frozen=True, kw_only=True)
class DecodedPhoto:
    """A decoded photo.

    Attributes:
        image: Its first frame, as stored.
        kind: The kind of file.
        orientation: EXIF orientation (1 to 8) that is still to be applied.
    """

    image: Image.Image
    kind: Kind
    orientation: int

    @property
    def upright_size_px(self) -> tuple[int, int]:
        """Width and height once turned."""
        width, height = self.image.size
        # EXIF 5 to 8 lie on their side.
        return (height, width) if self.orientation >= 5 else (width, height)  # noqa: PLR2004 - the standard's number, said above.


class _WarningsIgnored:
    """Silence the decoders' warnings while any thread is inside.

    The warnings module keeps one state for all threads, so the first to enter changes it
    and the last to leave restores it.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._caught: warnings.catch_warnings[None] | None = None

    def __enter__(self) -> None:
        with self._lock:
            if self._inside == 0:
                self._caught = warnings.catch_warnings()
                self._caught.__enter__()
                warnings.filterwarnings("ignore", module=r"PIL\.|pillow_heif\.")
            self._inside += 1

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with self._lock:
            self._inside -= 1
            if self._inside == 0 and self._caught is not None:
                self._caught.__exit__(kind, error, trace)
                self._caught = None


_WARNINGS_IGNORED = _WarningsIgnored()


def read_within(source: BinaryIO, limits: Limits) -> bytes:
    """All bytes of `source`.

    Raises:
        ReferenceEmpty: There are none.
        ReferenceTooLarge: There are more than the limit; no more than that is read.
    """
    parts: list[bytes] = []
    left = limits.max_bytes + 1
    while left > 0 and (part := source.read(left)):
        parts.append(part)
        left -= len(part)
    if not parts:
        raise ReferenceEmpty("The file is empty. Choose the photo again.", field="file")
    if left <= 0:
        raise too_large(limits)
    return b"".join(parts)


def too_large(limits: Limits) -> ReferenceTooLarge:
    """The refusal of a file of more bytes than are accepted."""
    return ReferenceTooLarge(
        f"The file is larger than {limits.max_bytes / 1e6:g} MB, the most that is accepted. "
        "Save the photo as JPEG at a quality of about 90, or smaller, and send that.",
        field="file",
    )


def decode_photo(data: bytes, limits: Limits, *, accept_damaged: bool = False) -> DecodedPhoto:
    """Decode the first picture in `data`.

    Args:
        data: A file of any kind.
        limits: What is accepted.
        accept_damaged: Take what could be read of a damaged picture, if that is anything.

    Raises:
        PhotoError: One of its kinds, with what the sender can do.
    """
    kind = kind_of(data[:HEAD_BYTES])
    try:
        with _WARNINGS_IGNORED:
            header = _header(data, kind)
            _check_size(header.size, limits)
            image, share = _decoded(data, kind, header)
            # A header inside the file may have corrected the one outside.
            _check_size(image.size, limits)
            orientation = _orientation(header, kind)
    except PhotoError:
        raise
    except Image.DecompressionBombError:
        raise ReferenceTooManyPixels(
            "The photo has far more pixels than are accepted "
            f"({limits.max_pixels / 1e6:g} million). Save a smaller copy and send that.",
            field="file",
        ) from None
    except (MemoryError, jpeg.TooManyParts) as error:
        raise ReferenceTooComplex(
            "The photo is built of more parts, or needs more memory, than any photo should. "
            "Open it on your device, save a fresh copy as JPEG and send that.",
            field="file",
        ) from error
    except Exception as error:
        # Decoders raise a dozen kinds of error on bad bytes; to the sender all mean the same.
        raise _damaged(0.0) from error
    if share < 1 and not (accept_damaged and share >= _LEAST_SHARE):
        raise _damaged(share)
    return DecodedPhoto(image=image, kind=kind, orientation=orientation)


def _decoded(data: bytes, kind: Kind, header: Image.Image) -> tuple[Image.Image, float]:
    """The picture as far as it can be read, and the share that was read: 1 for all of it."""
    if kind == "jpeg":
        found = jpeg.decode(data, jpeg.parts_of(data), header)
        return found.image, found.share
    if kind in {"png", "tiff"}:
        whole = crc_share(data) if kind == "png" else 1.0
        image, share = load_truncated(header, lambda: _header(data, kind))
        return image, min(whole, share)
    header.load()
    return header, 1.0


def _damaged(share: float) -> ReferenceDamaged:
    again = "Send it again, or open it on your device, save a fresh copy as JPEG and send that"
    if share < _LEAST_SHARE:
        detail = f"The photo is damaged or breaks off, and nothing of it can be read. {again}."
        return ReferenceDamaged(detail, field="file")
    percent = min(round(100 * share), 99)
    return ReferenceDamaged(
        f"The photo is damaged or breaks off: about {percent} % of it can be read. {again}; or "
        "say that it is to be taken as it is (accept damaged).",
        readable_share=percent / 100,
        field="file",
    )


def _header(data: bytes, kind: Kind) -> Image.Image:
    if kind == "heic":
        # Opened by its class: the library need not be registered for the whole process.
        return pillow_heif.HeifImageFile(BytesIO(data))  # type: ignore[no-untyped-call]
    image = Image.open(BytesIO(data), formats=[_DECODERS[kind]])
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        _refuse_raw(image, data)
    return image


def _refuse_raw(image: TiffImagePlugin.TiffImageFile, data: bytes) -> None:
    tags = image.tag_v2
    reduced = int(tags.get(_NEW_SUBFILE_TYPE) or 0) & _REDUCED
    if reduced or _RAW_VERSION in tags or data[8:10] == b"CR":
        raise camera_raw()


def _check_size(size_px: tuple[int, int], limits: Limits) -> None:
    width_px, height_px = size_px
    if width_px * height_px > limits.max_pixels:
        raise ReferenceTooManyPixels(
            f"The photo has {width_px * height_px / 1e6:.1f} million pixels "
            f"({width_px} × {height_px}); at most {limits.max_pixels / 1e6:g} million are "
            "accepted. Save a smaller copy and send that.",
            field="file",
        )
    if min(size_px) < limits.min_side_px:
        raise ReferenceTooSmall(
            f"The picture is only {width_px} × {height_px} pixels; nothing can be drawn from "
            f"that. Send one of at least {limits.min_side_px} pixels on its shorter side, "
            "better 1500 or more.",
            field="file",
        )


def _orientation(image: Image.Image, kind: Kind) -> int:
    """How the picture is still to be turned, EXIF 1 to 8.

    The TIFF and HEIC decoders have turned it already.
    """
    if kind in {"tiff", "heic"}:
        return 1
    try:
        value = image.getexif().get(ExifTags.Base.Orientation, 1)
    except Exception:  # noqa: BLE001 - a broken EXIF block says nothing about the pixels.
        return 1
    return value if isinstance(value, int) and value in _ORIENTATIONS else 1
