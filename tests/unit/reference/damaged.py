"""Photos that were damaged on their way, and files built to keep a decoder busy."""

from __future__ import annotations

import struct

#: ITU-T T.81 table B.1.
SOI, EOI, SOS = b"\xff\xd8", b"\xff\xd9", b"\xff\xda"


def cut(data: bytes, share: float = 0.6, *, end: bytes = b"") -> bytes:
    """The first part of a file, with something put after."""
    return data[: int(len(data) * share)] + end


def zeroed(data: bytes, count: int = 3000) -> bytes:
    """The file with zeros in its middle."""
    middle = len(data) // 2
    return data[:middle] + bytes(count) + data[middle + count :]


def claiming(data: bytes, width_px: int, height_px: int) -> bytes:
    """A JPEG whose frame header (T.81 B.2.2) claims another size."""
    at = next(data.index(mark) for mark in (b"\xff\xc0", b"\xff\xc2") if mark in data)
    return data[: at + 5] + struct.pack(">HH", height_px, width_px) + data[at + 9 :]


def scan_bomb(progressive: bytes, scans: int) -> bytes:
    """A progressive JPEG that goes over its picture again and again.

    Each scan says that no block has anything to add (T.81 G.1.2.2, a run of 32,767 blocks
    without coefficients at a time, the longest that there is).
    """
    # One code of one bit, for a run of 2^14 blocks and more (T.81 B.2.4.2: table 0x10 is AC 0).
    table = b"\xff\xc4" + struct.pack(">HB", 20, 0x10) + bytes([1, *[0] * 15]) + b"\xe0"
    head = SOS + struct.pack(">HBBB", 8, 1, 1, 0) + bytes((1, 63, 0x00))
    # The run's code 0, then its 14 more bits, filled up with ones.
    runs = b"\x3f\x7f" * 4
    return progressive[: -len(EOI)] + table + (head + runs) * scans + EOI
