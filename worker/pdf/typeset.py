"""Paragraphs: words with bold phrases, broken into lines that fit a measure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.fonts import BOLD, TEXT
from worker.pdf.palette import BLACK, HAIR_MM, SANGUINE, TextStyle
from worker.pdf.text import width_pt
from worker.spec.plan import Rect
from worker.units import mm_to_pt, pt_to_mm

#: Line distance in sizes of type.
LEADING = 1.38
#: A line of more words than this can give one to a line that has one alone.
_SPARES = 2


@dataclass(frozen=True)
class Word:
    """One word and its face; one that clings follows the word before it without a space."""

    text: str
    face: str
    clings: bool = False


def words(marked: str) -> list[Word]:
    """Words of a text in which two stars begin and end a bold phrase."""
    found: list[Word] = []
    open_before = True
    for number, phrase in enumerate(marked.split("**")):
        face = BOLD if number % 2 else TEXT
        for place, text in enumerate(filter(None, phrase.split(" "))):
            clings = place == 0 and not open_before and not phrase.startswith(" ")
            found.append(Word(text, face, clings))
        if phrase:
            open_before = phrase.endswith(" ")
    return found


def lines(marked: str, size_pt: float, measure_mm: float) -> list[list[Word]]:
    """The text broken greedily into lines no wider than the measure.

    No last line has one word alone where the line before it can spare another.
    """
    room, space = mm_to_pt(measure_mm) / size_pt, width_pt(" ", TEXT, 1)
    broken: list[list[tuple[list[Word], float]]] = [[]]
    used = 0.0
    for unit in _measured(marked):
        wide = unit[1] + (space if broken[-1] else 0.0)
        if broken[-1] and used + wide > room:
            broken.append([])
            used, wide = 0.0, wide - space
        broken[-1].append(unit)
        used += wide
    if len(broken) > 1 and len(broken[-1]) == 1 and len(broken[-2]) > _SPARES:
        moved = broken[-2][-1]
        if moved[1] + space + used <= room:
            broken[-1].insert(0, broken[-2].pop())
    return [[word for unit, _ in line for word in unit] for line in broken]


@lru_cache(maxsize=256)
def _measured(marked: str) -> tuple[tuple[list[Word], float], ...]:
    """What must stay together, with its width at 1 pt."""
    return tuple(
        (unit, sum(width_pt(word.text, word.face, 1) for word in unit))
        for unit in _units(words(marked))
    )


def _units(found: list[Word]) -> Iterator[list[Word]]:
    """Words with what clings to them."""
    unit: list[Word] = []
    for word in found:
        if unit and not word.clings:
            yield unit
            unit = []
        unit.append(word)
    if unit:
        yield unit


def draw_line(canvas: PdfCanvas, at: Point, line: list[Word], size_pt: float) -> None:
    """One line from its left, words of one face together."""
    x, space = at[0], pt_to_mm(width_pt(" ", TEXT, size_pt))
    for number, (face, group) in enumerate(groupby(line, key=lambda word: word.face)):
        part = list(group)
        x += space if number and not part[0].clings else 0.0
        text = "".join(word.text if word.clings else f" {word.text}" for word in part).strip(" ")
        x += canvas.text((x, at[1]), text, TextStyle(face=face, size_pt=size_pt, ink=BLACK))


def tick_box(canvas: PdfCanvas, at: Point, unit: float, *, ticked: bool) -> None:
    """A box to tick off; a dash before what is not done but heeded."""
    x, y = at
    if ticked:
        side = unit * 0.82
        box = Rect(x + 0.1, y + unit * 0.2, side, side)
        canvas.rect(box, stroke=LineStyle(ink=BLACK, width_mm=HAIR_MM))
    else:
        middle = y + unit * 0.66
        dash = LineStyle(ink=SANGUINE, width_mm=0.35)
        canvas.line((x + 0.1, middle), (x + unit * 0.9, middle), dash)
