"""From a string in any script to placed glyphs.

The text is cleaned, split where the direction changes (Unicode bidirectional algorithm,
UAX #9) and where the face changes, shaped run by run, and the runs are put in the order
in which they are read from left to right on paper. Whatever a title holds comes out as
glyphs or as visible boxes, never as an error.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import uharfbuzz as hb
from bidi import algorithm as bidi

from worker.pdf.fonts import face, face_for

_ZWNJ, _ZWJ = "\u200c", "\u200d"
_ELLIPSIS = "…"
_BREAKING_SPACES = re.compile(r"[^\S\u00a0\u202f]+")
#: Longer text is cut before anything else looks at it; no place on a page holds more.
LONGEST_TEXT = 400


@dataclass(frozen=True)
class Glyph:
    """One glyph; lengths in thousandths of an em.

    Attributes:
        face: Recipient glyph it is.
        number: Which one.
        advance: How far the next glyph's origin is.
        right, up: How far it is drawn from its own origin.
        back: How far a PDF viewer, which goes on by the glyph's plain width, must step
            back to reach the next origin.
        meaning: The text it stands for.
    """

    face: str
    number: int
    advance: float
    right: float
    up: float
    back: float
    meaning: str


@dataclass(frozen=True)
class Shaped:
    """Glyphs from left to right, and how wide they are together at 1 pt."""

    glyphs: tuple[Glyph, ...]
    width: float


@dataclass(frozen=True)
class _Run:
    text: str
    face: str
    level: int


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Text without controls: line ends and tabs become spaces, the rest is dropped.

    No-break spaces stay, because no line ends at them; French has them before its signs.
    Joiners stay, because letters change with them. Lone surrogates and code points that
    Unicode has not given out become U+FFFD, which prints as a mark of its own.
    """
    kept = (_clean_letter(letter) for letter in text[:LONGEST_TEXT])
    spaced = _BREAKING_SPACES.sub(" ", "".join(kept)).strip(" ")
    return "" if spaced.isspace() else unicodedata.normalize("NFC", spaced)


def _clean_letter(letter: str) -> str:
    category = unicodedata.category(letter)
    if category in {"Cs", "Cn"}:
        return "\ufffd"
    if category in {"Zl", "Zp"} or letter in "\t\n\r\v\f":
        return " "
    if category == "Cc" or (category == "Cf" and letter not in (_ZWNJ, _ZWJ)):
        return ""
    return letter


@lru_cache(maxsize=4096)
def shape(text: str, wanted: str) -> Shaped:
    """Glyphs of a cleaned text in the wanted face and, where it lacks letters, others."""
    glyphs = tuple(glyph for run in _in_visual_order(_runs(text, wanted)) for glyph in _shape(run))
    return Shaped(glyphs, sum(glyph.advance for glyph in glyphs) / 1000)


def width_pt(text: str, wanted: str, size_pt: float) -> float:
    """How wide a text is."""
    return shape(text, wanted).width * size_pt


def fit(text: str, wanted: str, size_pt: float, room_pt: float) -> str:
    """The text, or its beginning with an ellipsis where it is wider than the room."""
    if width_pt(text, wanted, size_pt) <= room_pt:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = width_pt(_beginning(text, middle), wanted, size_pt) <= room_pt
        low, high = (middle, high) if fits else (low, middle - 1)
    return _beginning(text, low)


def _beginning(text: str, length: int) -> str:
    """Some letters and an ellipsis, not torn between a letter and its marks."""
    while 0 < length < len(text) and (_clings(text[length]) or text[length - 1] == _ZWJ):
        length -= 1
    return text[:length].rstrip() + _ELLIPSIS


def _clings(letter: str) -> bool:
    """Whether a letter belongs to the one before it: marks, joiners, emoji skin tones."""
    if letter < "\u0300":
        return False
    if letter in (_ZWNJ, _ZWJ) or "\U0001f3fb" <= letter <= "\U0001f3ff":
        return True
    return unicodedata.category(letter) in {"Mn", "Me", "Mc"}


def _runs(text: str, wanted: str) -> Iterator[_Run]:
    faces = _faces(text, wanted)
    levels = _levels(text)
    for (name, level), places in groupby(range(len(text)), key=lambda i: (faces[i], levels[i])):
        indices = list(places)
        yield _Run(text[indices[0] : indices[-1] + 1], name, level)


def _faces(text: str, wanted: str) -> list[str]:
    """A face for each letter; what clings stays with its letter, also after a joiner."""
    faces: list[str] = []
    for i, letter in enumerate(text):
        follows = i > 0 and (_clings(letter) or text[i - 1] == _ZWJ)
        before = faces[-1] if faces else wanted
        knows = ord(letter) in face(before).covers or letter in (_ZWNJ, _ZWJ)
        joins = follows and (knows or unicodedata.category(letter) == "Mn")
        faces.append(before if joins else face_for(ord(letter), wanted))
    return faces


def _levels(text: str) -> list[int]:
    """Embedding level of each letter (UAX #9); even runs rightwards, odd leftwards."""
    if text.isascii() or not any(
        unicodedata.bidirectional(letter) in {"R", "AL", "AN"} for letter in text
    ):
        return [0] * len(text)
    storage = bidi.get_empty_storage()
    base = bidi.get_base_level(text)
    storage["base_level"], storage["base_dir"] = base, ("L", "R")[base]
    bidi.get_embedding_levels(text, storage)
    for step in (
        bidi.explicit_embed_and_overrides,
        bidi.resolve_weak_types,
        bidi.resolve_neutral_types,
        bidi.resolve_implicit_levels,
    ):
        step(storage, False)  # noqa: FBT003 - the library takes its debug flag by place.
    levels = [int(letter["level"]) for letter in storage["chars"]]
    return levels if len(levels) == len(text) else [base] * len(text)


def _in_visual_order(runs: Iterator[_Run]) -> list[_Run]:
    """Rule L2 of UAX #9, on whole runs: HarfBuzz turns the letters within one."""
    ordered = list(runs)
    for level in range(max((run.level for run in ordered), default=0), 0, -1):
        turned: list[_Run] = []
        waiting: list[_Run] = []
        for run in ordered:
            if run.level >= level:
                waiting.insert(0, run)
            else:
                turned += [*waiting, run]
                waiting = []
        ordered = turned + waiting
    return ordered


def _shape(run: _Run) -> Iterator[Glyph]:
    known = face(run.face)
    buffer = hb.Buffer()
    buffer.add_str(run.text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if run.level % 2 else "ltr"
    hb.shape(known.font, buffer)
    meaning = _meanings(run.text, [info.cluster for info in buffer.glyph_infos])
    scale = 1000 / known.upem
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        advance, right = place.x_advance * scale, place.x_offset * scale
        back = known.advance(info.codepoint) - advance + right
        meant = meaning.pop(info.cluster, "")
        up = place.y_offset * scale
        yield Glyph(run.face, info.codepoint, advance, right, up, back, meant)


def _meanings(text: str, clusters: list[int]) -> dict[int, str]:
    """The letters of each cluster."""
    starts = sorted(set(clusters))
    ends = [*starts[1:], len(text)]
    return {start: text[start:end] for start, end in zip(starts, ends, strict=True)}
