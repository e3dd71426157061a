"""A scale bar that measures its true length on paper, whatever the printer does to lengths.

A line with ticks, as on a rule, alike at both ends; it is measured over the outer sides of its end
ticks, so that no line's thickness counts.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.pages.lengths import Measures
from worker.pdf.canvas import PdfCanvas, Point
from worker.pdf.palette import BLACK, HAIR_MM
from worker.spec.plan import Rect
from worker.units import MM_PER_INCH

#: Height of the ticks at its ends, and of those between.
_THICK_MM, _STEP_MM = 1.6, 0.8


@dataclass(frozen=True, kw_only=True)
class ScaleBar:
    """A scale bar: its true length, how many steps it shows, and what it says.

    `drawn_mm` carries the printer's correction, so that the print measures the true length.
    `full`: none is longer.
    """

    drawn_mm: float
    steps: int
    says: str
    full: bool


def scale_bar(say: Measures, *, correction: float, room_mm: float) -> ScaleBar | None:
    """The longest bar that a room takes: 100, 50 or 20 mm, or 4, 2 or 1 in."""
    lengths = (4, 2, 1) if say.inches else (100, 50, 20)
    for length in lengths:
        drawn_mm = length * (MM_PER_INCH if say.inches else 1.0) * correction
        if drawn_mm <= room_mm:
            return ScaleBar(
                drawn_mm=drawn_mm,
                steps=length * 2 if say.inches else length // 10,
                says=say.words.measure(length, "in" if say.inches else "mm"),
                full=length == lengths[0],
            )
    return None


def draw_scale_bar(canvas: PdfCanvas, at: Point, bar: ScaleBar, *, down: bool) -> None:
    """A line with a tick at each step; it measures from its one end to its other."""

    def tick(along: float, high: float) -> None:
        _block(canvas, at, (along, HAIR_MM), (_THICK_MM, high), down=down)

    _block(canvas, at, (0.0, bar.drawn_mm), (_THICK_MM, HAIR_MM), down=down)
    for number in range(1, bar.steps):
        tick(number * bar.drawn_mm / bar.steps - HAIR_MM / 2, _STEP_MM)
    for along in (0.0, bar.drawn_mm - HAIR_MM):
        tick(along, _THICK_MM)


def _block(canvas: PdfCanvas, at: Point, along: Point, across: Point, *, down: bool) -> None:
    """A black block: where it begins along the bar and how long, in the middle of what height."""
    (start, length), (thick, high) = along, across
    aside = (thick - high) / 2
    canvas.rect(
        Rect(at[0] + aside, at[1] + start, high, length)
        if down
        else Rect(at[0] + start, at[1] + aside, length, high),
        fill=BLACK,
    )
