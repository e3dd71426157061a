"""What kind of file it is, told by its content."""

from __future__ import annotations

import pytest

from tests.unit.reference.samples import quarters, saved
from worker.errors import ReferenceType
from worker.reference.sniff import HEAD_BYTES, kind_of


@pytest.mark.parametrize(
    ("encoder", "kind"),
    [
        ("JPEG", "jpeg"),
        ("PNG", "png"),
        ("WEBP", "webp"),
        ("TIFF", "tiff"),
        ("HEIF", "heic"),
        ("AVIF", "avif"),
        ("MPO", "jpeg"),
    ],
)
def test_content_decides(encoder: str, kind: str) -> None:
    assert kind_of(saved(quarters(), encoder)[:HEAD_BYTES]) == kind


@pytest.mark.parametrize(
    ("head", "word"),
    [
        (b"GIF89a", "GIF"),
        (b"BM6\x00", "BMP"),
        (b"%PDF-1.7", "PDF"),
        (b"PK\x03\x04\x14", "ZIP"),
        (b"<svg xmlns=", "SVG"),
        (b"Dear diary,", "text"),
        (b"\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2", "video"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", "no picture"),
        (b"\xff\x0a\x00", "JPEG XL"),
        (b"\x00" * 64, "no picture"),
    ],
)
def test_a_refusal_names_what_was_sent_and_what_to_do(head: bytes, word: str) -> None:
    with pytest.raises(ReferenceType, match=word) as refusal:
        kind_of(head)
    assert "Save the photo as JPEG" in refusal.value.detail
    assert refusal.value.field == "file"


def test_brands_beside_the_major_one_count() -> None:
    assert kind_of(b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic") == "heic"
    assert kind_of(b"\x00\x00\x00\x1cftypmif1\x00\x00\x00\x00mif1avifmiaf") == "avif"
