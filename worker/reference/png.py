"""Damage in a PNG file, found by the sums that it carries (ISO 15948 5.3).

Every chunk has a CRC. Decoders skip those of the pixels' chunks, and take wrong bytes that
still inflate for a picture.
"""

from __future__ import annotations

import zlib

_HEAD_BYTES = 8


def whole_share(data: bytes) -> float:
    """How far the file is whole, 0 to 1: up to the first chunk that is wrong or missing.

    Args:
        data: A file with a PNG's signature.
    """
    view, at = memoryview(data), _HEAD_BYTES
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(view[at : at + 4], "big")
        if end + 4 > len(data):
            break
        if zlib.crc32(view[at + 4 : end]) != int.from_bytes(view[end : end + 4], "big"):
            return at / len(data)
        if data[at + 4 : at + 8] == b"IEND":
            return 1.0
        at = end + 4
    return min(at / len(data), 0.99)
