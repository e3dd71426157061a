"""Lines to trace on a sheet: in the coordinates of the whole picture, clipped to the piece.

They are pure black, not graphite like the rest of a page: a laser printer screens every
grey into dots, and a screened line of a third of a millimetre has ragged edges. Ends and
corners are round, as a pen makes them.

Coordinates carry the printer's correction, line weights do not: nobody sees two percent of one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from worker.pages.pack_content import SheetPage
from worker.pdf.canvas import PdfCanvas, Point
from worker.pdf.stroke_paths import SMALL_UNITS_PER_MM, UNITS_PER_MM, LineWork
from worker.spec.plan import Rect
from worker.units import mm_to_pt

#: Round caps and joins, whole lines (ISO 32000-1, 8.4.3).
_LIKE_A_PEN = "1 J 1 j [] 0 d"
#: Widths of the weights at a small scale, where dashes are too small to be seen.
SMALL_WIDTHS_MM = (0.07, 0.1, 0.16, 0.07)


@dataclass(frozen=True, kw_only=True)
class SmallLineStyle:
    """How lines are drawn at a small scale.

    Attributes:
        most: Curves in all, about; a thousand take some 5 kB of the file.
        grey: 0 is black, 1 is white.
    """

    most: int
    grey: float


def draw_strokes(canvas: PdfCanvas, page: SheetPage, lines: LineWork) -> None:
    """Draw the strokes that meet a piece."""
    rect = page.piece.picture_rect_mm
    origin, right, below = (
        page.on_page(x - rect.left, y - rect.top) for x, y in ((0, 0), (1, 0), (0, 1))
    )
    with canvas.clipped(page.cut):
        _draw(canvas, (origin, right, below), lines, rect)


def draw_small_strokes(
    canvas: PdfCanvas, area: Rect, scale: float, lines: LineWork, style: SmallLineStyle
) -> None:
    """Draw all strokes as thin lines over a rectangle that shows the whole picture.

    Args:
        canvas: Draws on the page.
        area: Where the picture is.
        scale: Millimetres of the page for one of the picture.
        lines: The strokes.
        style: How they are drawn.
    """
    unit = mm_to_pt(1 / SMALL_UNITS_PER_MM)
    left, top = mm_to_pt(area.left), mm_to_pt(canvas.pdf.height_mm - area.top)
    with canvas.clipped(area):
        canvas.pdf.code(f"{unit:.9f} 0 0 {-unit:.9f} {left:.5f} {top:.5f} cm")
        canvas.pdf.code(f"{_LIKE_A_PEN} {style.grey:g} G")
        for weight, paths in lines.reduced_paths(scale, style.most):
            canvas.pdf.code(f"{SMALL_WIDTHS_MM[weight] * SMALL_UNITS_PER_MM:g} w")
            canvas.pdf.code(paths)


def _draw(
    canvas: PdfCanvas, axes: tuple[Point, Point, Point], lines: LineWork, area_mm: Rect
) -> None:
    """Strokes by where the picture's origin and a millimetre right and down of it lie."""
    (x0, y0), (x1, y1), (x2, y2) = axes
    steps = (x1 - x0, y0 - y1, x2 - x0, y0 - y2)
    scale = math.sqrt(abs(steps[0] * steps[3] - steps[1] * steps[2]))
    matrix = [mm_to_pt(step) / UNITS_PER_MM for step in steps]
    matrix += [mm_to_pt(x0), mm_to_pt(canvas.pdf.height_mm - y0)]
    canvas.pdf.code(" ".join(f"{number:.9f}" for number in matrix) + " cm")
    canvas.pdf.code(f"{_LIKE_A_PEN} 0 G")
    for width_mm, paths in lines.paths(area_mm):
        canvas.pdf.code(f"{width_mm * UNITS_PER_MM / scale:.3f} w")
        canvas.pdf.code(paths)
