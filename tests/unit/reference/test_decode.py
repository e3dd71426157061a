"""Hostile, broken and oversized files: a reason for each, and never a warning."""

from __future__ import annotations

import contextlib
import io
import itertools
import random
import struct
import threading
import warnings
import zlib
from collections.abc import Callable

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from tests.unit.reference.samples import quarters, saved
from worker.errors import (
    PhotoError,
    ReferenceDamaged,
    ReferenceEmpty,
    ReferenceTooLarge,
    ReferenceTooManyPixels,
    ReferenceTooSmall,
    ReferenceType,
)
from worker.reference.decode import _WARNINGS_IGNORED, Limits, decode_photo, read_within

ENCODERS = ("JPEG", "PNG", "WEBP", "TIFF", "HEIF", "AVIF")
LIMITS = Limits(max_pixels=1_000_000, max_bytes=1_000_000)


def png_of(width_px: int, height_px: int, pixels: bytes = b"") -> bytes:
    """A PNG with this header, whatever its pixels (ISO 15948 11.2)."""
    head = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in ((b"IHDR", head), (b"IDAT", zlib.compress(pixels)), (b"IEND", b""))
    )


def jpeg_of(width_px: int, height_px: int) -> bytes:
    """A JPEG whose frame header lies (ITU-T T.81 B.2.2)."""
    data = bytearray(saved(quarters(), "JPEG"))
    frame = data.index(b"\xff\xc0")
    data[frame + 5 : frame + 9] = struct.pack(">HH", height_px, width_px)
    return bytes(data)


def webp_of(width_px: int, height_px: int) -> bytes:
    """A WebP whose canvas lies (RFC 9649 2.7)."""
    body = b"VP8X" + struct.pack("<I", 10) + bytes(4)
    body += (width_px - 1).to_bytes(3, "little") + (height_px - 1).to_bytes(3, "little")
    body += saved(quarters(), "WEBP")[12:]
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def test_nothing_is_empty() -> None:
    with pytest.raises(ReferenceEmpty):
        read_within(io.BytesIO(b""), LIMITS)


def test_more_bytes_than_the_limit_are_not_read() -> None:
    source = io.BytesIO(bytes(3_000_000))
    with pytest.raises(ReferenceTooLarge, match="1 MB"):
        read_within(source, LIMITS)
    assert source.tell() == LIMITS.max_bytes + 1
    assert len(read_within(io.BytesIO(bytes(1_000_000)), LIMITS)) == 1_000_000


def test_a_source_that_gives_little_at_a_time_is_read_to_its_end() -> None:
    class Slow(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            return super().read(min(size or 0, 7))

    assert read_within(Slow(b"twelve bytes and more"), LIMITS) == b"twelve bytes and more"


@pytest.mark.parametrize("encoder", ENCODERS)
def test_more_pixels_than_the_limit_are_not_decoded(
    encoder: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = saved(Image.new("RGB", (1200, 1000)), encoder)

    def never(_: Image.Image) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr(Image.Image, "load", never)
    with pytest.raises(ReferenceTooManyPixels, match=r"1\.2 million pixels \(1200 × 1000\)"):
        decode_photo(data, LIMITS)


@pytest.mark.parametrize(
    "data",
    [
        png_of(60_000, 60_000),
        jpeg_of(60_000, 60_000),
        webp_of(16_000, 16_000),
        png_of(12_000, 8_000),
    ],
    ids=["png", "jpeg", "webp", "between the library's warning and its error"],
)
def test_a_header_that_promises_too_much_is_refused(data: bytes) -> None:
    with pytest.raises(ReferenceTooManyPixels):
        decode_photo(data, LIMITS)


@pytest.mark.parametrize("data", [png_of(1, 1, b"\0\0\0\0"), jpeg_of(1, 1), jpeg_of(2000, 8)])
def test_a_picture_of_hardly_any_pixels_is_refused(data: bytes) -> None:
    with pytest.raises(ReferenceTooSmall, match="at least 60"):
        decode_photo(data, LIMITS)


@pytest.mark.parametrize("size", [(0, 100), (100, 0), (0, 0)])
def test_a_picture_without_a_side_is_damaged(size: tuple[int, int]) -> None:
    with pytest.raises((ReferenceDamaged, ReferenceTooSmall)):
        decode_photo(png_of(*size), LIMITS)


@pytest.mark.parametrize("encoder", ENCODERS)
@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9])
def test_a_file_that_breaks_off_is_damaged(encoder: str, share: float) -> None:
    noise = np.random.default_rng(3).integers(0, 256, (200, 300, 3), dtype=np.uint8)
    data = saved(Image.fromarray(noise), encoder)
    with pytest.raises(ReferenceDamaged, match="fresh copy as JPEG"):
        decode_photo(data[: max(int(len(data) * share), 40)], LIMITS)


@pytest.mark.parametrize("encoder", ENCODERS)
def test_scrambled_bytes_end_in_a_picture_or_in_a_reason(encoder: str) -> None:
    clean = saved(quarters(), encoder, exif=_exif(6).tobytes())
    dice = random.Random(encoder)  # noqa: S311 - repeatable damage, no secret.
    for _ in range(150):
        data = bytearray(clean)
        for _ in range(dice.choice([1, 2, 8, 40])):
            data[dice.randrange(len(data))] = dice.randrange(256)
        # Any other error than ours fails the test.
        with contextlib.suppress(PhotoError):
            assert min(decode_photo(bytes(data), LIMITS).image.size) >= LIMITS.min_side_px


def test_text_with_a_picture_s_beginning_is_damaged() -> None:
    for start in (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"RIFF\0\0\0\0WEBP"):
        with pytest.raises(ReferenceDamaged):
            decode_photo(start + b"Dear diary, today I drew a pear. " * 20, LIMITS)


def test_a_bomb_in_a_text_chunk_is_refused_or_passed_over() -> None:
    notes = PngImagePlugin.PngInfo()
    notes.add_text("comment", "0" * 20_000_000, zip=True)
    with pytest.raises(ReferenceDamaged):
        decode_photo(saved(quarters(), "PNG", pnginfo=notes), LIMITS)


def test_a_bomb_in_the_pixels_fills_no_more_than_the_header_says() -> None:
    data = png_of(64, 64, bytes(50_000_000))
    decoded = decode_photo(data, LIMITS)
    assert decoded.image.size == (64, 64)


def _raw_tiff(tags: dict[int, int]) -> bytes:
    return saved(quarters(), "TIFF", tiffinfo=tags)


def test_raw_files_in_a_tiff_s_clothes_are_named() -> None:
    data = _raw_tiff({254: 1})
    with pytest.raises(ReferenceType, match="raw"):
        decode_photo(data, LIMITS)


def _exif(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif


def test_broken_metadata_leave_the_pixels_alone() -> None:
    for exif in (b"Exif\0\0", b"Exif\0\0MM\0*\0\0\0\x08\xff\xff", b"Exif\0\0II*\0\xff\xff\xff\xff"):
        decoded = decode_photo(saved(quarters(), "JPEG", exif=exif), LIMITS)
        assert decoded.orientation == 1
    assert (
        decode_photo(saved(quarters(), "JPEG", exif=_exif(99).tobytes()), LIMITS).orientation == 1
    )


def test_the_library_s_limits_are_left_alone() -> None:
    before = Image.MAX_IMAGE_PIXELS
    with pytest.raises(ReferenceTooManyPixels):
        decode_photo(png_of(60_000, 60_000), LIMITS)
    assert before == Image.MAX_IMAGE_PIXELS


def test_more_pixels_than_the_library_s_limit_are_welcome_where_ours_allows() -> None:
    # 90 megapixels of one bit: beyond where the library warns.
    data = saved(Image.new("1", (10_000, 9_000)), "PNG")
    assert decode_photo(data, Limits(max_pixels=100_000_000)).image.size == (10_000, 9_000)


def test_threads_that_open_at_once_leave_the_warnings_as_they_were() -> None:
    before = list(warnings.filters)
    data = png_of(12_000, 8_000)

    def refuse() -> None:
        for _ in range(20):
            with pytest.raises(ReferenceTooManyPixels):
                decode_photo(data, LIMITS)

    run: list[Callable[[], None]] = [refuse] * 4
    workers = [threading.Thread(target=each) for each in run]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert list(warnings.filters) == before
    assert _WARNINGS_IGNORED._inside == 0


def test_the_first_of_several_pictures_is_taken() -> None:
    first, second = quarters(), Image.new("RGB", (96, 64), "black")
    for encoder, options in (
        ("TIFF", {}),
        ("WEBP", {"lossless": True}),
        ("PNG", {}),
        ("AVIF", {"quality": 95}),
        ("MPO", {"quality": 95}),
    ):
        data = saved(first, encoder, save_all=True, append_images=[second], **options)
        found = decode_photo(data, LIMITS).image.convert("RGB").getpixel((80, 50))
        assert isinstance(found, tuple)
        assert all(abs(a - b) < 30 for a, b in itertools.zip_longest(found, (255, 255, 0))), encoder
