"""The small signs of the sheets: cut lines, arrows, neighbours, key plan.

All ink is outside the piece: a hairline along a cut has its inner side on the cut, so that a
blade along the picture cuts the line off with the slug.
"""

from __future__ import annotations

from typing import Literal

from worker.layout.page_area import FOOT_SLUG_MM
from worker.pages.pack_content import SheetPage, without_lap
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import (
    BLACK,
    FAINT,
    HAIR_MM,
    SANGUINE,
    SMALLEST_PT,
    TextStyle,
    body,
    strong,
)
from worker.spec.plan import Edge, Rect

#: How far cut ticks reach beyond the piece, where there is room.
TICK_MM = 4.0
SHORT_TICK_MM = 0.7
#: The line of a flap, which is not cut.
_FLAP_DASH_MM = (1.2, 1.2)
#: A page with more pieces than this shows only itself in its key plan.
_KEY_PLAN_PIECES = 60

Way = Literal["up", "right", "down", "left"]
#: Edges above and below the compass, with their arrow, baseline and the arrow's tip, in mm.
_ABOVE_AND_BELOW: tuple[tuple[Edge, Way, float, float], ...] = (
    ("top", "up", 2.2, 0.5),
    ("bottom", "down", 8.4, 8.3),
)


def cut_lines(canvas: PdfCanvas, page: SheetPage) -> None:
    """Hairlines along the cuts and ticks in their prolongation.

    Head and foot cut run along the piece. Where the piece takes the full printable width
    there is no paper left beside it, and the side cuts are the ticks in the strips above
    and below: lay the rule from one to the other. Such a tick stands inside the printable
    width, its outer side on the cut.

    Beside a flap there is no cut: its line is dashed, and the picture is hinged along it.
    """
    head_and_foot: tuple[Edge, ...] = ("top", "bottom")
    for edge in head_and_foot:
        _bar(canvas, _beside(page, edge), dashed=edge == page.piece.flap)
    sides: tuple[Edge, ...] = ("left", "right")
    for edge in sides:
        _side_cut(canvas, page, edge)
        for end, y in (("top", page.cut.top - HAIR_MM), ("bottom", page.cut.bottom)):
            if end != page.piece.flap:
                _side_tick(canvas, page, edge, y)


def _side_cut(canvas: PdfCanvas, page: SheetPage, edge: Edge) -> None:
    """A cut down the page: a hairline where there is paper, and its ticks above and below."""
    cut, flap, shown = page.cut, page.piece.flap == edge, page.room(edge) >= HAIR_MM
    if shown:
        _bar(canvas, _beside(page, edge), dashed=flap)
    if shown and flap:
        return
    x = _tick_left(page, edge)
    above, below = _reach(page, edge, "top"), _reach(page, edge, "bottom")
    _bar(canvas, Rect(x, cut.top - above, HAIR_MM, above), dashed=flap)
    _bar(canvas, Rect(x, cut.bottom, HAIR_MM, below), dashed=flap)


def _bar(canvas: PdfCanvas, area: Rect, *, dashed: bool = False) -> None:
    """A straight line that fills an area."""
    if not dashed:
        canvas.rect(area, fill=BLACK)
        return
    middle_x, middle_y = area.left + area.width / 2, area.top + area.height / 2
    upright = area.height > area.width
    start = (middle_x, area.top) if upright else (area.left, middle_y)
    end = (middle_x, area.bottom) if upright else (area.right, middle_y)
    canvas.line(start, end, LineStyle(ink=BLACK, width_mm=HAIR_MM, dash_mm=_FLAP_DASH_MM))


def _beside(page: SheetPage, edge: Edge) -> Rect:
    """A hairline's area, outside the piece along an edge of the page."""
    cut = page.cut
    return {
        "top": Rect(cut.left, cut.top - HAIR_MM, cut.width, HAIR_MM),
        "bottom": Rect(cut.left, cut.bottom, cut.width, HAIR_MM),
        "left": Rect(cut.left - HAIR_MM, cut.top, HAIR_MM, cut.height),
        "right": Rect(cut.right, cut.top, HAIR_MM, cut.height),
    }[edge]


def _reach(page: SheetPage, side: Edge, end: Edge) -> float:
    """How far the tick of a side cut reaches above or below the piece.

    Where a hairline shows the cut anyway, the tick keeps clear of what the strips say.
    """
    if page.room(side) < HAIR_MM:
        return min(TICK_MM, page.room(end))
    clear = end == "bottom" and page.room(end) > TICK_MM + FOOT_SLUG_MM
    return TICK_MM if clear else SHORT_TICK_MM


def _tick_left(page: SheetPage, edge: Edge) -> float:
    """Where a tick for a side cut begins: outside the cut, or inside where there is no room."""
    outside = page.room(edge) >= HAIR_MM
    if edge == "left":
        return page.cut.left - (HAIR_MM if outside else 0.0)
    return page.cut.right - (0.0 if outside else HAIR_MM)


def _side_tick(canvas: PdfCanvas, page: SheetPage, edge: Edge, y_mm: float) -> None:
    reach = min(TICK_MM, page.room(edge))
    if reach < 1.0:
        return
    left = page.cut.left - reach if edge == "left" else page.cut.right
    _bar(canvas, Rect(left, y_mm, reach, HAIR_MM))


def arrow_head(canvas: PdfCanvas, tip: Point, way: Way, size_mm: float) -> None:
    """A filled triangle that points one way."""
    x, y = tip
    half = size_mm * 0.5
    away: dict[Way, tuple[Point, Point]] = {
        "up": ((x - half, y + size_mm), (x + half, y + size_mm)),
        "down": ((x - half, y - size_mm), (x + half, y - size_mm)),
        "left": ((x + size_mm, y - half), (x + size_mm, y + half)),
        "right": ((x - size_mm, y - half), (x - size_mm, y + half)),
    }
    canvas.polygon((tip, *away[way]), SANGUINE)


def up_arrow(canvas: PdfCanvas, box: Rect, page: SheetPage) -> None:
    """Which way the picture's top is, in the upper part of a box, and the word below it."""
    size = min(box.width, box.height - 3.0)
    middle_x, middle_y = box.left + box.width / 2, box.top + size / 2
    shaft = LineStyle(ink=SANGUINE, width_mm=0.45)
    if page.turned:
        tip = (middle_x + size / 2, middle_y)
        canvas.line((middle_x - size / 2, middle_y), (tip[0] - 1, middle_y), shaft)
        arrow_head(canvas, tip, "right", 2.4)
    else:
        tip = (middle_x, box.top)
        canvas.line((middle_x, box.top + size), (middle_x, box.top + 1), shaft)
        arrow_head(canvas, tip, "up", 2.4)
    canvas.text(
        (middle_x, box.bottom), page.pack.words("sheet.top"), body(SMALLEST_PT), align="centre"
    )


def compass(canvas: PdfCanvas, left: float, top: float, page: SheetPage) -> float:
    """The piece as a small square, and at its four sides who meets it there on the page.

    Returns its width in mm; it is nine millimetres high.
    """
    wide = max(
        canvas.width(*_neighbour_text(page, "left")), canvas.width(*_neighbour_text(page, "right"))
    )
    tall = max(
        canvas.width(*_neighbour_text(page, "top")), canvas.width(*_neighbour_text(page, "bottom"))
    )
    half, gap = 1.3, 2.7
    width = 2 * (max(half + gap + wide, tall / 2 + 1.4))
    x, y = left + width / 2, top + 4.5
    canvas.rect(Rect(x - half, y - half, 2 * half, 2 * half), fill=FAINT)
    arrow_head(canvas, (x - half - 2.1, y), "left", 1.5)
    arrow_head(canvas, (x + half + 2.1, y), "right", 1.5)
    canvas.text((x - half - gap, y + 0.9), *_neighbour_text(page, "left"), align="right")
    canvas.text((x + half + gap, y + 0.9), *_neighbour_text(page, "right"))
    for edge, way, baseline, tip in _ABOVE_AND_BELOW:
        width_mm = canvas.text(
            (x + 1.0, top + baseline), *_neighbour_text(page, edge), align="centre"
        )
        arrow_head(canvas, (x - width_mm / 2 - 0.7, top + tip), way, 1.5)
    return width


def _neighbour_text(page: SheetPage, edge: Edge) -> tuple[str, TextStyle]:
    """Who meets an edge of the page's piece; where the picture ends nobody, or a flap."""
    if edge == page.piece.flap:
        return page.pack.words("sheet.flap-edge"), strong(7.4)
    labels = page.neighbours(edge)
    if labels:
        return " ".join(labels), strong(7.4)
    return page.pack.words("sheet.edge"), body(SMALLEST_PT)


def key_plan(canvas: PdfCanvas, box: Rect, page: SheetPage) -> None:
    """The whole picture at a small scale, turned as on this page, with this piece filled."""
    plan = page.pack.plan
    width, height = plan.picture.width_mm, plan.picture.height_mm
    across, down = (height, width) if page.turned else (width, height)
    scale = min(box.width / across, box.height / down)
    left = box.left + (box.width - across * scale) / 2
    top = box.top + (box.height - down * scale) / 2

    def small(area: Rect) -> Rect:
        if page.turned:
            x, y = height - area.bottom, area.left
            return Rect(left + x * scale, top + y * scale, area.height * scale, area.width * scale)
        return Rect(
            left + area.left * scale,
            top + area.top * scale,
            area.width * scale,
            area.height * scale,
        )

    canvas.rect(small(without_lap(page.piece)), fill=SANGUINE)
    fine = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    if len(plan.pieces) <= _KEY_PLAN_PIECES:
        for piece in plan.pieces:
            canvas.rect(small(without_lap(piece)), stroke=fine)
    canvas.rect(small(Rect(0, 0, width, height)), stroke=fine)
