"""A name or a title in the largest type that fits its room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import TextStyle
from worker.pdf.text import clean
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Line distance in sizes of type; scripts with tall marks need more than Latin.
LEADING = 1.32
#: Room above the first baseline, in sizes of type: the tallest marks of any face here.
_ABOVE = 1.02
#: And below the last baseline: the lowest tails of Arabic letters.
_BELOW = 0.5
#: Each try is so much smaller than the one before.
_STEP = 0.93


@dataclass(frozen=True, kw_only=True)
class HeadlineStyle:
    """The sizes and lines that a headline may take.

    Attributes:
        style: The style; its size is the largest that is tried.
        smallest_pt: The smallest size; text that is still too long ends in an ellipsis.
        most_lines: The most lines, however high the room is.
    """

    style: TextStyle
    smallest_pt: float
    most_lines: int = 3


@dataclass(frozen=True, kw_only=True)
class Headline:
    """How a text was broken, and in which style it fits.

    Attributes:
        lines: From top to bottom.
        style: The style asked for, in the size that fits.
    """

    lines: tuple[str, ...]
    style: TextStyle

    @property
    def height_mm(self) -> float:
        """From its top to the last line's descenders."""
        return pt_to_mm(self.style.size_pt) * (_ABOVE + LEADING * (len(self.lines) - 1) + _BELOW)

    def draw(self, canvas: PdfCanvas, left: float, top: float) -> float:
        """Draw it with its top left here; returns where it ends."""
        size = pt_to_mm(self.style.size_pt)
        for number, line in enumerate(self.lines):
            canvas.text((left, top + size * (_ABOVE + LEADING * number)), line, self.style)
        return top + self.height_mm


def headline(canvas: PdfCanvas, text: str, headline_style: HeadlineStyle, room: Rect) -> Headline:
    """A text in any script, in the largest size at which it fits the room."""
    text, style, most_lines = clean(text), headline_style.style, headline_style.most_lines
    size_pt = style.size_pt
    while size_pt > headline_style.smallest_pt:
        tried = _broken(canvas, text, replace(style, size_pt=size_pt), room.width)
        whole = all(canvas.width(line, tried.style) <= room.width for line in tried.lines)
        if whole and len(tried.lines) <= most_lines and tried.height_mm <= room.height:
            return tried
        size_pt *= _STEP
    broken = _broken(canvas, text, replace(style, size_pt=headline_style.smallest_pt), room.width)
    return _shortened(canvas, broken, room.width, most_lines)


def _broken(canvas: PdfCanvas, text: str, style: TextStyle, room_mm: float) -> Headline:
    return Headline(lines=tuple(_lines(canvas, text, style, room_mm)) or ("",), style=style)


def _lines(canvas: PdfCanvas, text: str, style: TextStyle, room_mm: float) -> Iterator[str]:
    """Greedy lines, broken at blanks alone."""
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and canvas.width(longer, style) > room_mm:
            yield line
            longer = word
        line = longer
    if line:
        yield line


def _shortened(canvas: PdfCanvas, broken: Headline, room_mm: float, most_lines: int) -> Headline:
    kept = broken.lines[:most_lines]
    rest = " ".join(broken.lines[most_lines - 1 :])
    lines = (*kept[: most_lines - 1], rest) if len(broken.lines) > most_lines else kept
    return replace(broken, lines=tuple(canvas.fit(line, broken.style, room_mm) for line in lines))
