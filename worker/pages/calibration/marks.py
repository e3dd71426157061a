"""What is measured on a test page: two bars and four staircases.

A bar is read between the middles of two fine ticks, so that no line's weight counts, also
where a printer lays lines on thicker than they are drawn. A staircase has a block for
every millimetre from the edge; the printer cuts off those that begin in its margin.
"""

from __future__ import annotations

from worker.layout.printer_readings import INNER_SHARE, LAST_STEP_MM
from worker.pages.calibration.places import TICK_MM, Places
from worker.pdf.palette import FINE_MM, GRAPHITE, PAPER, Style, body, strong
from worker.pdf.pen import Pen, Point, Stroke
from worker.spec.plan import EDGES, Edge, Rect
from worker.units import MM_PER_INCH, pt_to_mm

#: The finest pen of ISO 9175-1: ends are read on it.
_TICK = Stroke(ink=GRAPHITE, width_mm=0.13)
_RULE = Stroke(ink=GRAPHITE, width_mm=FINE_MM)
_RING_MM = 1.1
_SHORT_TICK_MM = 1.1
#: Height of a figure, in sizes of type.
_FIGURE = 0.714


def draw_bars(pen: Pen, places: Places) -> None:
    """Both bars, with what they measure written beside them."""
    for down in (False, True):
        _bar(pen, places, down=down)
        _labels(pen, places, down=down)


def _at(places: Places, along: float, beside: float, *, down: bool) -> Point:
    """A place by its distance along the page and from the bar (upwards, or leftwards)."""
    if down:
        return places.down_mm - beside, along
    return along, places.across_mm - beside


def _bar(pen: Pen, places: Places, *, down: bool) -> None:
    start, end = places.ends(down=down)
    pen.line(_at(places, start, 0, down=down), _at(places, end, 0, down=down), _RULE)
    step = MM_PER_INCH / 2 if places.sheet.inches else 10.0
    for number in range(1, round((end - start) / step)):
        _tick(pen, places, start + number * step, _SHORT_TICK_MM, down=down)
    for inner in (False, True):
        for along in places.ends(down=down, inner=inner):
            _tick(pen, places, along, TICK_MM, down=down)
            if inner:
                ring = _at(places, along, TICK_MM + _RING_MM, down=down)
                pen.circle(ring, _RING_MM, fill=PAPER, stroke=_TICK)


def _tick(pen: Pen, places: Places, along: float, half_mm: float, *, down: bool) -> None:
    ends = (_at(places, along, half_mm, down=down), _at(places, along, -half_mm, down=down))
    pen.line(*ends, _TICK)


def _labels(pen: Pen, places: Places, *, down: bool) -> None:
    """The length between the ends large, that between the ringed ticks small."""
    k = places.scale
    start, end = places.ends(down=down)
    turn = 90.0 if down else 0.0
    way = "down" if down else "across"
    said = f"{way}, end to end: {length_in_words(places, end - start)}"
    inner = f"ring to ring: {length_in_words(places, (end - start) * INNER_SHARE)}"
    for text, style, share in ((said, strong(8 * k), 0.5), (inner, body(6.5 * k), _BESIDE[down])):
        at = _at(places, start + (end - start) * share, 1.9, down=down)
        pen.text(at, text, style, align="centre", turn_deg=turn)


#: Where along a bar the smaller label has its middle: after the larger one as it is read.
_BESIDE = {False: 0.76, True: 0.24}


def length_in_words(places: Places, length_mm: float) -> str:
    """A bar's length as it is read off a rule of the sheet's own unit."""
    if places.sheet.inches:
        inches = f"{length_mm / MM_PER_INCH:.2f}".rstrip("0").rstrip(".")
        return f"{inches} in ({length_mm:.1f} mm)"
    return f"{length_mm:g} mm"


def draw_stairs(pen: Pen, places: Places) -> None:
    """On every edge a block for each millimetre from it, numbered."""
    style = strong(5.6 * max(1.0, places.scale))
    for edge in EDGES:
        for number in range(LAST_STEP_MM + 1):
            block = places.step(edge, number)
            pen.rect(block, fill=GRAPHITE)
            _number(pen, edge, block, str(number), style)


def _number(pen: Pen, edge: Edge, block: Rect, text: str, style: Style) -> None:
    """On the block's inner side."""
    high, gap = pt_to_mm(style.size_pt) * _FIGURE, 0.5
    middle_x, middle_y = block.left + block.width / 2, block.top + (block.height + high) / 2
    if edge == "top":
        pen.text((middle_x, block.bottom + gap + high), text, style, align="centre")
    elif edge == "bottom":
        pen.text((middle_x, block.top - gap), text, style, align="centre")
    elif edge == "left":
        pen.text((block.right + gap, middle_y), text, style)
    else:
        pen.text((block.left - gap, middle_y), text, style, align="right")
