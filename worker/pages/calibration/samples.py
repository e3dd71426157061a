"""What a printer makes of fine lines and of greys: the samples on a test page.

Line weights are those of drawing pens (ISO 9175-1), as black lines on paper and as blank
ones in black, since ink that spreads closes the one and thickens the other. The greys go
in eleven steps from blank to black.
"""

from __future__ import annotations

from worker.pages.calibration.layout import CalibrationLayout
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import BLACK, HAIR_MM, PAPER, Ink, body, kicker
from worker.spec.plan import Rect
from worker.spec.strokes import PEN_WIDTHS_MM

_GREYS = 11
_BLACK = Ink(0, 0, 0)


def draw_samples(canvas: PdfCanvas, layout: CalibrationLayout) -> None:
    """Line weights, and below them the greys."""
    k, area, words = layout.scale, layout.samples, layout.words
    heading = kicker(5.6 * k)
    canvas.text((area.left, area.top + 2 * k), words("test-page.weights"), heading)
    _weights(canvas, Rect(area.left, area.top + 3.5 * k, area.width, 12.5 * k), layout)
    y = area.top + 20.5 * k
    canvas.text((area.left, y), words("test-page.greys"), heading)
    _greys(canvas, Rect(area.left, y + 1.5 * k, area.width, 11 * k), k)


def _weights(canvas: PdfCanvas, area: Rect, layout: CalibrationLayout) -> None:
    """A column for each: its width, a black line, and a blank line in black."""
    k, words = layout.scale, layout.words
    wide = area.width / len(PEN_WIDTHS_MM)
    band = Rect(area.left, area.top + 6.5 * k, area.width, 5.5 * k)
    canvas.rect(band, fill=_BLACK)
    for number, width_mm in enumerate(PEN_WIDTHS_MM):
        left = area.left + number * wide
        right = left + wide - 2 * k
        canvas.text((left, area.top + 2.2 * k), words.number(width_mm, 2, least=0), body(6 * k))
        for y, ink in ((area.top + 4.4 * k, _BLACK), (band.top + band.height / 2, PAPER)):
            start = left + (1.0 * k if ink is PAPER else 0.0)
            canvas.line((start, y), (right, y), LineStyle(ink=ink, width_mm=width_mm))


def _greys(canvas: PdfCanvas, area: Rect, k: float) -> None:
    """Side by side without a gap, so that two that print alike run together."""
    wide, high = area.width / _GREYS, area.height - 3.2 * k
    for number in range(_GREYS):
        share = number / (_GREYS - 1)
        light = 1 - share
        patch = Rect(area.left + number * wide, area.top, wide, high)
        canvas.rect(patch, fill=Ink(light, light, light))
        middle = (patch.left + wide / 2, area.bottom - 0.6 * k)
        canvas.text(middle, f"{share * 100:.0f}", body(6 * k), align="centre")
    whole = Rect(area.left, area.top, area.width, high)
    canvas.rect(whole, stroke=LineStyle(ink=BLACK, width_mm=HAIR_MM))
