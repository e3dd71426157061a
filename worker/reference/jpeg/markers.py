"""The parts of a JPEG file (ITU-T T.81 annex B), read without decoding anything.

A progressive photo is stored in scans, and each takes a pass over the whole picture, however
few data it has: 8 MB have room for tens of thousands. So scans are counted before the file is
decoded. The coefficients that they carry also show whether scans are missing, of which no
decoder warns.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

#: Usual encoders write ten or twelve scans; one for every coefficient and colour would be 192,
#: which no encoder writes. At this number the passes alone over 60 megapixels take seconds.
MOST_SCANS = 100
#: Segments outside the scans: 255 for a colour profile and some hundred for long metadata.
MOST_SEGMENTS = 5000
_COEFFICIENTS = 64
#: A marker that ends a scan: neither a stuffed byte, nor fill, nor a restart (T.81 B.1.1).
_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
#: T.81 table B.1: start of image, end of image, start of scan, temporary.
_SOI, _EOI, _SOS, _TEM = 0xD8, 0xD9, 0xDA, 0x01
_DRI = 0xDD
_APP0, _APP14 = 0xE0, 0xEE
#: Start of frame: all of C0 to CF but tables (C4, CC) and the reserved C8.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_BASELINE = frozenset({0xC0, 0xC1})
_PROGRESSIVE = frozenset({0xC2, 0xCA})


class TooManyParts(Exception):
    """The file has more scans or segments than any photo."""


@dataclass(frozen=True, kw_only=True)
class Scan:
    """One pass over the picture: which coefficients of which components, down to which bit."""

    at: int
    header: int
    components: tuple[int, ...]
    first: int
    last: int
    low_bit: int


@dataclass(frozen=True, kw_only=True)
class Parts:
    """What a file is made of.

    Attributes:
        frame: The marker of its frame; 0 where there is none.
        weights: How many blocks of each component a unit of the picture has.
        scans: In their order.
        end: Where its end marker is; None where that is missing.
        restarts: Whether it has restart markers, after which a decoder finds its place again.
        segments: Offset of each application segment, by marker, the first of each kind.
    """

    frame: int
    weights: dict[int, int]
    scans: tuple[Scan, ...]
    end: int | None
    restarts: bool
    segments: dict[int, int]

    @property
    def progressive(self) -> bool:
        """Whether later scans refine what earlier ones brought."""
        return self.frame in _PROGRESSIVE

    @property
    def brought(self) -> float:
        """How much of the picture's coefficients the scans bring, 0 to 1."""
        return brought_by(self, self.scans)


def brought_by(parts: Parts, scans: tuple[Scan, ...]) -> float:
    """The share that these scans bring; a coefficient short of n bits counts 1 / (1 + n)."""
    bits = {(one, k): -1 for one in parts.weights for k in range(_COEFFICIENTS)}
    for scan in scans:
        for one in scan.components:
            for k in range(scan.first, min(scan.last, _COEFFICIENTS - 1) + 1):
                bits[one, k] = scan.low_bit
    whole = _COEFFICIENTS * sum(parts.weights.values())
    credit = sum(
        parts.weights[one] / (1 + low)
        for (one, _), low in bits.items()
        if low >= 0 and one in parts.weights
    )
    return credit / whole if whole else 0.0


def parts_of(data: bytes) -> Parts:
    """Read the parts of a JPEG file; what makes no sense is passed over, as decoders do.

    Raises:
        TooManyParts: It is built to keep a decoder busy.
    """
    frame, weights, restarts, end = 0, dict[int, int](), False, None
    scans: list[Scan] = []
    segments: dict[int, int] = {}
    at, seen = 2, 0
    while (found := _MARKER.search(data, at)) is not None:
        at, marker = found.start(), data[found.start() + 1]
        if marker == _EOI:
            end = at
            break
        if marker in {_SOI, _TEM}:
            at += 2
            continue
        seen += 1
        body = data[at + 4 : at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")]
        if marker == _SOS:
            scans.append(_scan(at, body, progressive=frame in _PROGRESSIVE))
        elif marker in _FRAMES and not frame:
            frame, weights = marker, _weights(body)
        elif marker == _DRI:
            restarts = any(body)
        elif marker >= _APP0:
            segments.setdefault(marker, at)
        if len(scans) > MOST_SCANS or seen > MOST_SEGMENTS:
            raise TooManyParts
        at += 4 + len(body)
    return Parts(
        frame=frame,
        weights=weights,
        scans=tuple(scans),
        end=end,
        restarts=restarts,
        segments=segments,
    )


def _scan(at: int, body: bytes, *, progressive: bool) -> Scan:
    """A scan's header (T.81 B.2.3); without progression each scan brings all of its blocks."""
    count = body[0] if body else 0
    first, last, bits = (*body[1 + 2 * count : 4 + 2 * count], 0, 0, 0)[:3]
    return Scan(
        at=at,
        header=at + 4,
        components=tuple(body[1 : 1 + 2 * count : 2]),
        first=first if progressive else 0,
        last=last if progressive else _COEFFICIENTS - 1,
        low_bit=bits & 15 if progressive else 0,
    )


def _weights(body: bytes) -> dict[int, int]:
    """Blocks of each component, by its number (T.81 B.2.2)."""
    each = (body[at : at + 3] for at in range(6, len(body) - 2, 3))
    return {one[0]: max((one[1] >> 4) * (one[1] & 15), 1) for one in each}


def as_decoders_take_it(data: bytes, parts: Parts) -> bytes:
    """The same file without what a decoder warns of though no pixel depends on it.

    It keeps only its first warning, and behind a harmless one would hide the next: an unknown
    JFIF version, an unknown colour transform (taken for the usual one), spectral fields of a
    sequential scan that say nothing. An end marker that is missing is added.
    """
    changed = bytearray(data)
    app0, app14 = parts.segments.get(_APP0), parts.segments.get(_APP14)
    if app0 is not None and data[app0 + 4 : app0 + 9] == b"JFIF\0":
        changed[app0 + 9 : app0 + 10] = b"\1"
    if app14 is not None and data[app14 + 4 : app14 + 9] == b"Adobe":
        transform = app14 + 15
        if len(data) > transform and data[transform] > 2:  # noqa: PLR2004 - 0, 1 and 2 are known.
            changed[transform] = 2 if len(parts.weights) == 4 else 1  # noqa: PLR2004 - inks.
    for scan in parts.scans if parts.frame in _BASELINE else ():
        fields = scan.header + 1 + 2 * len(scan.components)
        changed[fields : fields + 3] = bytes((0, _COEFFICIENTS - 1, 0))[: len(data) - fields]
    if parts.end is None:
        changed += bytes((0xFF, _EOI))
    return bytes(changed)


def up_to_scan(data: bytes, parts: Parts, count: int) -> bytes:
    """The file with its first `count` scans alone."""
    if count >= len(parts.scans):
        return data
    return data[: parts.scans[count].at] + bytes((0xFF, _EOI))
