"""Register marks: half on each of two pieces, so that a seam shows how true it is joined.

A mark is two signs side by side. Five ticks on one piece are 1.2 mm apart, on the other 1.5 mm:
the long middle ones meet where the seam is true, and for each 0.3 mm of shift along the seam the
next ones do (a vernier). A cross has its middle on the seam: a gap or an overlap breaks both its
lines.

The ink is black in short dashes: as pale to the eye as grey, unlike any line to trace, and sharp
where it meets the edge. Of a grey line of this width a laser printer makes dots of a few pixels,
which need not begin at the edge and which no two printers print alike (`tests/bench` shows it). A
rim of paper shows dashes on dark tones.

Dashes begin on the seam. With a lap, those of the lower piece begin under the upper one, so that
they are still read where it lies too far away. All marks of a seam are found from the plan, so
both halves agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from worker.pages.pack_content import SheetPage
from worker.pdf.canvas import Axes, LineStyle, PdfCanvas, Point, line_operators
from worker.pdf.palette import BLACK, HAIR_MM, PAPER
from worker.spec.plan import Seam

#: Between the ticks on a seam's left or upper piece, and on the other one.
PITCHES_MM = (1.2, 1.5)
#: Of how many dashes ticks and cross are, on one piece; the middle tick is longer.
_TICK, _MIDDLE_TICK, _CROSS = 2, 3, 5
DASH_MM, _GAP_MM = 0.3, 0.3
#: The cross runs so far along the seam for each millimetre away from it.
_SLOPE = 1.5
#: Where ticks and cross have their middles, along the seam from the mark's middle.
_TICKS_AT_MM, _CROSS_AT_MM = -2.7, 3.2
#: So far dashes go on under a neighbour that covers a lap.
_UNDER_MM = 1.5
#: The rim around a dash.
_ASIDE_MM = 0.15
_INK = LineStyle(ink=BLACK, width_mm=HAIR_MM)
_RIM = LineStyle(ink=PAPER, width_mm=HAIR_MM + 2 * _ASIDE_MM)

Segment = tuple[Point, Point]


@dataclass(frozen=True)
class _Ray:
    """A line of half a mark: where it leaves the seam, its slope, and of how many dashes it is."""

    at_mm: float
    slope: float
    dashes: int

    @property
    def length_mm(self) -> float:
        """It ends in a whole dash."""
        return self.dashes * (DASH_MM + _GAP_MM) - _GAP_MM

    def part(self, low_mm: float, high_mm: float) -> Segment:
        """Between two places of it, as (along the seam, away from it)."""
        away = math.hypot(1.0, self.slope)
        low, high = (
            (self.at_mm + self.slope * at_mm / away, at_mm / away) for at_mm in (low_mm, high_mm)
        )
        return low, high

    def broken(self) -> Iterator[Segment]:
        """Its dashes; the first begins under the neighbour, where there is paper."""
        for number in range(self.dashes):
            start = number * (DASH_MM + _GAP_MM)
            yield self.part(start if number else -_UNDER_MM, start + DASH_MM)


def draw_register_marks(canvas: PdfCanvas, page: SheetPage) -> None:
    """Draw this sheet's halves; they end where the sheet is cut."""
    if not page.marked:
        return
    places: dict[float, list[Axes]] = {pitch_mm: [] for pitch_mm in PITCHES_MM}
    for seam in page.seams:
        first = seam.between[0] == page.piece.label
        places[PITCHES_MM[0 if first else 1]] += _places(page, seam, -1.0 if first else 1.0)
    with canvas.clipped(page.cut):
        for pitch_mm, axes in places.items():
            canvas.lines(_paths(pitch_mm)[0], axes, _RIM)
        for pitch_mm, axes in places.items():
            canvas.lines(_paths(pitch_mm)[1], axes, _INK)


@cache
def _paths(pitch_mm: float) -> tuple[str, str]:
    """The rims and the dashes of half a mark: x along the seam, y away from it."""
    rays = tuple(_rays(pitch_mm))
    rims = (ray.part(-_UNDER_MM, ray.length_mm + _ASIDE_MM) for ray in rays)
    return line_operators(rims), line_operators(dash for ray in rays for dash in ray.broken())


def _places(page: SheetPage, seam: Seam, away: float) -> Iterator[Axes]:
    """Where halves of marks lie on this page; `away` is the sign of the way off the seam."""
    whole = page.piece.picture_rect_mm
    along, aside = ((0.0, 1.0), (away, 0.0)) if seam.standing else ((1.0, 0.0), (0.0, away))
    for place in seam.register_marks_mm:
        x, y = place[0] - whole.left, place[1] - whole.top
        at = page.on_page(x, y)
        ends = (page.on_page(x + dx, y + dy) for dx, dy in (along, aside))
        x_axis, y_axis = ((end[0] - at[0], end[1] - at[1]) for end in ends)
        yield at, x_axis, y_axis


def _rays(pitch_mm: float) -> Iterator[_Ray]:
    """The lines of half a mark."""
    for number in range(-2, 3):
        dashes = _TICK if number else _MIDDLE_TICK
        yield _Ray(_TICKS_AT_MM + number * pitch_mm, 0.0, dashes)
    for slope in (-_SLOPE, _SLOPE):
        yield _Ray(_CROSS_AT_MM, slope, _CROSS)
