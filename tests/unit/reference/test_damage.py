"""Damaged photos: refused with the share that can be read, taken as they are where asked."""

from __future__ import annotations

import functools
import io
import itertools

import numpy as np
import pytest
from PIL import Image

from tests.pictures.photographs import photographs
from tests.unit.reference.damaged import EOI, claiming, cut, scan_bomb, zeroed
from tests.unit.reference.samples import saved
from worker.errors import ReferenceDamaged, ReferenceTooComplex, ReferenceTooManyPixels
from worker.reference import jpeg
from worker.reference.decode import Limits, decode_photo

#: How cameras and editors write: sequential, in scans, with restarts, with whole colours.
WAYS: dict[str, dict[str, object]] = {
    "sequential": {},
    "progressive": {"progressive": True},
    "restarts": {"restart_marker_rows": 1},
    "whole colours": {"subsampling": 0, "optimize": True},
}


@functools.cache
def photo(name: str, way: str = "sequential", kind: str = "JPEG") -> bytes:
    """A photograph as a file."""
    options = WAYS[way] if kind == "JPEG" else {}
    return saved(Image.fromarray(photographs()[name]), kind, **options)


def refusal(data: bytes) -> ReferenceDamaged | None:
    """How a file is refused as damaged; None if it is taken."""
    try:
        decode_photo(data, Limits())
    except ReferenceDamaged as error:
        return error
    return None


def test_sound_photographs_are_taken_pixel_for_pixel_as_pillow_reads_them() -> None:
    """Each photograph in one of the ways, three of them in each, and one in all."""
    turns = zip(photographs(), itertools.cycle(WAYS))
    wrong = []
    for name, way in {*turns, *(("coffee", way) for way in WAYS)}:
        data = photo(name, way)
        with Image.open(io.BytesIO(data)) as plain:
            wanted = np.asarray(plain.convert("RGB"))
        found = np.asarray(decode_photo(data, Limits()).image.convert("RGB"))
        if not np.array_equal(found, wanted):
            wrong.append((name, way))
    assert wrong == []


def test_inks_and_greys_are_read_as_pillow_reads_them() -> None:
    picture = Image.fromarray(photographs()["astronaut"])
    for mode in ("L", "CMYK"):
        data = saved(picture.convert(mode), "JPEG")
        with Image.open(io.BytesIO(data)) as plain:
            wanted = np.asarray(plain)
        decoded = decode_photo(data, Limits()).image
        assert decoded.mode == mode
        assert np.array_equal(np.asarray(decoded), wanted)


def test_what_phones_put_around_a_photo_is_no_damage() -> None:
    """Common practice: filling before the end, a film or a second picture after it, no end."""
    sound = photo("coffee")
    jfif_9 = sound.replace(b"JFIF\0\1", b"JFIF\0\t", 1)
    assert jfif_9 != sound
    around = {
        "filling": sound[:-2] + bytes(500) + EOI,
        "filling of ones": sound[:-2] + b"\xff" * 500 + EOI,
        "a film after it": sound + b"\0\0\0\x18ftypmp42" + sound[:9000],
        "a second picture": sound + photo("cat"),
        "no end marker": sound[:-2],
        "another version": jfif_9,
    }
    assert {told: error.detail for told, data in around.items() if (error := refusal(data))} == {}


def test_every_kind_of_loss_is_told_with_about_how_much_is_left() -> None:
    """Cut at 60 % with an end marker put after; 3 kB of zeros in the middle; no end at all."""
    missed = []
    for name in ("astronaut", "coffee", "china", "retina", "rocket"):
        for way in WAYS:
            sound = photo(name, way)
            broken = {
                "cut, end put after": cut(sound, end=EOI),
                "cut": cut(sound),
                "zeros": zeroed(sound),
            }
            for told, data in broken.items():
                error = refusal(data)
                if error is None or not 0.2 < (error.readable_share or 0) < 1:
                    missed.append((name, way, told, error and error.readable_share))
    assert missed == []


def test_the_share_is_that_of_the_rows_that_are_as_they_were() -> None:
    sound = photo("coffee")
    with Image.open(io.BytesIO(sound)) as plain:
        whole = np.asarray(plain.convert("RGB"))
    for told, data in {"cut": cut(sound, end=EOI), "zeros": zeroed(sound)}.items():
        found = np.asarray(decode_photo(data, Limits(), accept_damaged=True).image.convert("RGB"))
        error = refusal(data)
        assert error is not None
        same = int((found == whole).all(axis=(1, 2)).argmin()) / len(whole)
        # A block's row of 16 pixels, and a cut inside it.
        assert abs(same - (error.readable_share or 0)) < 0.15, told


def test_a_header_that_claims_more_than_there_is_is_damaged() -> None:
    small = saved(Image.fromarray(photographs()["china"]).resize((480, 360)), "JPEG")
    error = refusal(claiming(small, 7700, 7700))
    assert error is not None
    assert (error.readable_share or 0) < 0.02
    with pytest.raises(ReferenceTooManyPixels):
        decode_photo(claiming(small, 9000, 9000), Limits())


def test_scans_that_are_missing_are_missed() -> None:
    """Cut after a scan, with an end put after: no decoder warns, and the picture is blurred."""
    sound = photo("coffee", "progressive")
    parts = jpeg.parts_of(sound)
    assert parts.brought == 1
    assert len(parts.scans) == 10
    shares = []
    for count in range(1, len(parts.scans)):
        error = refusal(sound[: parts.scans[count].at] + EOI)
        assert error is not None
        shares.append(error.readable_share or 0)
    assert shares == sorted(shares)


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP", "HEIF", "AVIF"])
def test_other_kinds_that_break_off_are_damaged(kind: str) -> None:
    error = refusal(cut(photo("coffee", kind=kind)))
    assert error is not None
    told = (error.readable_share or 0) > 0.3
    assert told == (kind in {"PNG", "TIFF"})


def test_a_png_s_sums_are_looked_at() -> None:
    sound = photo("coffee", kind="PNG")
    at = sound.index(b"IDAT") + 3000
    flipped = sound[:at] + bytes([sound[at] ^ 1]) + sound[at + 1 :]
    assert refusal(flipped) is not None
    assert refusal(zeroed(sound)) is not None
    assert refusal(sound[:-12]) is not None
    assert refusal(sound) is None


def test_what_is_left_is_taken_where_that_is_said() -> None:
    whole = photographs()["coffee"]
    for data in (
        cut(photo("coffee"), end=EOI),
        cut(photo("coffee", "progressive")),
        cut(photo("coffee", kind="PNG")),
    ):
        decoded = decode_photo(data, Limits(), accept_damaged=True)
        top = np.asarray(decoded.image.convert("RGB"))[:100].astype(np.int16)
        assert np.abs(top - whole[:100]).mean() < 12
    with pytest.raises(ReferenceDamaged, match="nothing of it") as refused:
        decode_photo(cut(photo("coffee", kind="WEBP")), Limits(), accept_damaged=True)
    assert refused.value.readable_share is None


def test_a_photo_of_thousands_of_scans_is_refused_before_it_is_decoded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sound = saved(Image.fromarray(photographs()["china"]), "JPEG", progressive=True)
    few = scan_bomb(sound, 20)
    assert len(jpeg.parts_of(few).scans) == 30
    # The bomb is built as it should be: a decoder takes its scans.
    with Image.open(io.BytesIO(few)) as plain:
        plain.load()

    def never(*_: object, **__: object) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr(jpeg, "decode", never)
    with pytest.raises(ReferenceTooComplex):
        decode_photo(scan_bomb(sound, 4000), Limits())


def test_segments_without_end_are_refused() -> None:
    sound = photo("coffee")
    with pytest.raises(ReferenceTooComplex):
        decode_photo(sound[:2] + b"\xff\xfe\0\2" * 100_000 + sound[2:], Limits())
