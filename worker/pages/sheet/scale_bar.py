"""A scale bar that measures its true length on paper, whatever the printer does to lengths.

Dark and open blocks in turn, as on maps; it is measured from its one end to its other, so
that no line's thickness counts.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.pages.lengths import Measures
from worker.pdf.canvas import PdfCanvas, Point
from worker.pdf.palette import GRAPHITE, HAIR_MM
from worker.spec.plan import Rect
from worker.units import MM_PER_INCH

_THICK_MM = 1.3


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
    """Blocks in turn dark and open; it measures from its one end to its other."""
    step = bar.drawn_mm / bar.steps
    for number in range(bar.steps):
        along = number * step
        across, size = (0.0, _THICK_MM) if number % 2 == 0 else (_THICK_MM * 0.38, _THICK_MM * 0.24)
        if down:
            canvas.rect(Rect(at[0] + across, at[1] + along, size, step), fill=GRAPHITE)
        else:
            canvas.rect(Rect(at[0] + along, at[1] + across, step, size), fill=GRAPHITE)
    end = bar.drawn_mm - HAIR_MM
    whole = (
        Rect(at[0], at[1] + end, _THICK_MM, HAIR_MM)
        if down
        else Rect(at[0] + end, at[1], HAIR_MM, _THICK_MM)
    )
    canvas.rect(whole, fill=GRAPHITE)
