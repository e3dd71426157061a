"""Where readings are written down on a test page: a small drawing of the sheet, with boxes.

Each box stands where its reading was taken, so that no edge is mistaken for another and
"across" not for "down".
"""

from __future__ import annotations

from worker.pages.calibration.layout import CalibrationLayout
from worker.pages.sheet.marks import arrow_head
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import (
    BLACK,
    FAINT,
    FINE_MM,
    HAIR_MM,
    SANGUINE,
    TextStyle,
    body,
    strong,
)
from worker.spec.plan import EDGES, Edge, Rect

_LINE = LineStyle(ink=BLACK, width_mm=HAIR_MM)
_BOX = LineStyle(ink=BLACK, width_mm=FINE_MM)
#: What a person writes on one line, and how much of the line each takes.
_WRITTEN = (("printer", 0.42), ("paper", 0.33), ("date", 0.25))
#: A box for handwriting, at least so wide and high.
_WIDE_MM, _HIGH_MM = 15.0, 7.5
_LEAST_WIDE_MM, _LEAST_HIGH_MM = 11.0, 6.0


def draw_labelled_lines(canvas: PdfCanvas, along: Rect, layout: CalibrationLayout) -> None:
    """Lines for the printer's name, the paper and the date."""
    k, words = layout.scale, layout.words
    x, style = along.left, body(7 * k)
    for name, share in _WRITTEN:
        end = x + along.width * share - 3 * k
        label_width = canvas.text((x, along.top), words(f"test-page.write-{name}"), style)
        canvas.line(
            (x + label_width + 1.5 * k, along.top + 0.6 * k), (end, along.top + 0.6 * k), _LINE
        )
        x = end + 3 * k


def draw_form(canvas: PdfCanvas, layout: CalibrationLayout) -> None:
    """A small drawing of the sheet, upright, with a box for each reading."""
    k, area = layout.scale, layout.form
    sheet = layout.sheet
    high = area.height
    wide = min(area.width * 0.78, high * sheet.width_mm / sheet.height_mm)
    small = Rect(area.left + (area.width - wide) / 2, area.top, wide, high)
    canvas.rect(small, stroke=LineStyle(ink=FAINT, width_mm=0.3))
    _margins(canvas, small, layout)
    _lengths(canvas, small, layout)
    _up(canvas, (small.right + 5 * k, small.top), layout)
    _first_out(canvas, (small.right + 3 * k, small.top + 16 * k), layout)


def _up(canvas: PdfCanvas, tip: Point, layout: CalibrationLayout) -> None:
    """Which way the page's top is."""
    (x, y), k = tip, layout.scale
    canvas.line((x, y + 1.5 * k), (x, y + 7 * k), LineStyle(ink=SANGUINE, width_mm=0.45))
    arrow_head(canvas, tip, "up", 2.4 * k)
    canvas.text((x, y + 10 * k), layout.words("test-page.edge-top"), body(6.2 * k), align="centre")


def _size(k: float) -> tuple[float, float]:
    return max(_LEAST_WIDE_MM, _WIDE_MM * k), max(_LEAST_HIGH_MM, _HIGH_MM * k)


def _margins(canvas: PdfCanvas, small: Rect, layout: CalibrationLayout) -> None:
    """A box at the middle of each edge."""
    k, words = layout.scale, layout.words
    wide, high = _size(k)
    gap = 1.2 * k
    middle_x, middle_y = small.left + small.width / 2, small.top + small.height / 2
    corners: dict[Edge, tuple[float, float]] = {
        "top": (middle_x - wide / 2, small.top + gap),
        "bottom": (middle_x - wide / 2, small.bottom - gap - high),
        "left": (small.left + gap, middle_y - high / 2),
        "right": (small.right - gap - wide, middle_y - high / 2),
    }
    style = body(6 * k)
    for edge, (left, top) in corners.items():
        box = Rect(left, top, wide, high)
        below = edge != "bottom"
        y = box.bottom + 2.6 * k if below else box.top - 1 * k
        _box(canvas, box, words.unit("mm"), style)
        canvas.text((left + wide / 2, y), words(f"test-page.edge-{edge}"), style, align="centre")


def _lengths(canvas: PdfCanvas, small: Rect, layout: CalibrationLayout) -> None:
    """Boxes for both bars, above and below the middle."""
    k, words = layout.scale, layout.words
    wide, high = _size(k)
    wide *= 1.35
    unit = words.unit("in" if layout.sheet.inches else "mm")
    middle_x = small.left + small.width / 2
    for way, y in (
        ("across", small.top + small.height * 0.3),
        ("down", small.top + small.height * 0.7),
    ):
        box = Rect(middle_x - wide / 2, y - high / 2, wide, high)
        _box(canvas, box, unit, body(6.5 * k))
        at = middle_x, box.top - 1.2 * k
        canvas.text(at, words(f"test-page.way-{way}"), strong(7.5 * k), align="centre")


def _box(canvas: PdfCanvas, box: Rect, unit: str, style: TextStyle) -> None:
    """A box to write into, with its unit at its right."""
    canvas.rect(box, stroke=_BOX)
    canvas.text((box.right - 0.8, box.bottom - 1.2), unit, style, align="right")


def _first_out(canvas: PdfCanvas, at: Point, layout: CalibrationLayout) -> None:
    """Which edge came out of the printer first."""
    (left, y), k, words = at, layout.scale, layout.words
    style, side = body(6.2 * k), 2.2 * k
    canvas.text((left, y), words("test-page.out-first"), style)
    for edge in EDGES:
        y += 3.6 * k
        canvas.rect(Rect(left, y - side + 0.2, side, side), stroke=_LINE)
        canvas.text((left + side + 1.2 * k, y), words(f"test-page.edge-{edge}"), style)
