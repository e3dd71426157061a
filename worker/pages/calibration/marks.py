"""What is measured on a test page: two bars and four staircases.

A bar is measured between the middles of two fine ticks, so that line weight and spreading ink
do not count. A staircase has a block for every millimetre from the edge; the printer cuts off
those that begin in its margin.
"""

from __future__ import annotations

from worker.layout.measuring.printer_readings import INNER_SHARE, LAST_STEP_MM
from worker.pages.calibration.layout import TICK_MM, CalibrationLayout
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import BLACK, FINE_MM, HAIR_MM, PAPER, TextStyle, body, strong
from worker.spec.plan import EDGES, Edge, Rect
from worker.units import MM_PER_INCH, pt_to_mm

#: Ends are read on it.
_TICK = LineStyle(ink=BLACK, width_mm=HAIR_MM)
_RULE = LineStyle(ink=BLACK, width_mm=FINE_MM)
_RING_MM = 1.1
_SHORT_TICK_MM = 1.1
#: Height of a figure, in sizes of type.
_FIGURE = 0.714


def draw_bars(canvas: PdfCanvas, layout: CalibrationLayout) -> None:
    """Both bars, with what they measure written beside them."""
    for down in (False, True):
        _bar(canvas, layout, down=down)
        _labels(canvas, layout, down=down)


def _at(layout: CalibrationLayout, along: float, beside: float, *, down: bool) -> Point:
    """A place by its distance along the page and from the bar (upwards, or leftwards)."""
    if down:
        return layout.down_mm - beside, along
    return along, layout.across_mm - beside


def _bar(canvas: PdfCanvas, layout: CalibrationLayout, *, down: bool) -> None:
    start, end = layout.ends(down=down)
    canvas.line(_at(layout, start, 0, down=down), _at(layout, end, 0, down=down), _RULE)
    step = MM_PER_INCH / 2 if layout.sheet.inches else 10.0
    for number in range(1, round((end - start) / step)):
        _tick(canvas, layout, start + number * step, _SHORT_TICK_MM, down=down)
    for inner in (False, True):
        for along in layout.ends(down=down, inner=inner):
            _tick(canvas, layout, along, TICK_MM, down=down)
            if inner:
                ring = _at(layout, along, TICK_MM + _RING_MM, down=down)
                canvas.circle(ring, _RING_MM, fill=PAPER, stroke=_TICK)


def _tick(
    canvas: PdfCanvas, layout: CalibrationLayout, along: float, half_mm: float, *, down: bool
) -> None:
    ends = (_at(layout, along, half_mm, down=down), _at(layout, along, -half_mm, down=down))
    canvas.line(*ends, _TICK)


def _labels(canvas: PdfCanvas, layout: CalibrationLayout, *, down: bool) -> None:
    """The length between the ends large, that between the ringed ticks small."""
    k, words = layout.scale, layout.words
    start, end = layout.ends(down=down)
    turn = 90.0 if down else 0.0
    whole, part = (length_in_words(layout, (end - start) * share) for share in (1.0, INNER_SHARE))
    outer = words("test-page.bar-down" if down else "test-page.bar-across", length=whole)
    inner = words("test-page.rings", length=part)
    large, small = strong(8 * k), body(6.5 * k)
    half = canvas.width(outer, large) / 2, canvas.width(inner, small) / 2
    # The smaller label is after the larger one as it is read, and clear of it.
    beside = max((end - start) * _BESIDE, half[0] + half[1] + 3 * k) * (-1 if down else 1)
    middle = (start + end) / 2
    for text, style, along in ((outer, large, middle), (inner, small, middle + beside)):
        at = _at(layout, along, 1.9, down=down)
        canvas.text(at, text, style, align="centre", turn_deg=turn)


#: How far from a bar's middle that of the smaller label is, in lengths of the bar.
_BESIDE = 0.26


def length_in_words(layout: CalibrationLayout, length_mm: float) -> str:
    """A bar's length as it is read off a rule of the sheet's own unit."""
    if layout.sheet.inches:
        inches = layout.words.measure(length_mm / MM_PER_INCH, "in", 2)
        return f"{inches} ({layout.words.measure(length_mm, 'mm', 1, least=1)})"
    return layout.words.measure(length_mm, "mm", 2)


def draw_stairs(canvas: PdfCanvas, layout: CalibrationLayout) -> None:
    """On every edge a block for each millimetre from it, numbered."""
    style = strong(5.6 * max(1.0, layout.scale))
    for edge in EDGES:
        for number in range(LAST_STEP_MM + 1):
            block = layout.step(edge, number)
            canvas.rect(block, fill=BLACK)
            _number(canvas, edge, block, str(number), style)


def _number(canvas: PdfCanvas, edge: Edge, block: Rect, text: str, style: TextStyle) -> None:
    """On the block's inner side."""
    high, gap = pt_to_mm(style.size_pt) * _FIGURE, 0.5
    middle_x, middle_y = block.left + block.width / 2, block.top + (block.height + high) / 2
    if edge == "top":
        canvas.text((middle_x, block.bottom + gap + high), text, style, align="centre")
    elif edge == "bottom":
        canvas.text((middle_x, block.top - gap), text, style, align="centre")
    elif edge == "left":
        canvas.text((block.right + gap, middle_y), text, style)
    else:
        canvas.text((block.left - gap, middle_y), text, style, align="right")
