"""What is measured on the map: check lengths with their figures, the border, the scale, the top."""

from __future__ import annotations

from worker.pages.map.placement import MapPlacement
from worker.pages.sheet.marks import arrow_head
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import BLACK, FIRM_MM, HAIR_MM, SANGUINE, body, strong
from worker.units import pt_to_mm

#: The word under the arrow stands off the drawing by this, however long it is.
_CLEAR_MM = 0.8


def draw_check_lengths(canvas: PdfCanvas, placement: MapPlacement) -> None:
    """Width above and height at the left with their figures; of diagonals the table tells."""
    pack, picture, support = placement.pack, placement.picture, placement.support
    say, size = pack.say, pack.type_pt(7.4)
    width, height = pack.plan.picture.width_mm, pack.plan.picture.height_mm
    away = 4.2 * pack.scale
    y, x = support.top - away, support.left - away
    _dimension(canvas, ((picture.left, y), (picture.right, y)), say.length(width), size, turn_deg=0)
    _dimension(
        canvas, ((x, picture.bottom), (x, picture.top)), say.length(height), size, turn_deg=90
    )


def _dimension(
    canvas: PdfCanvas, line: tuple[Point, Point], says: str, size_pt: float, *, turn_deg: float
) -> None:
    """A dimension line with oblique ends, broken for its figure."""
    (x1, y1), (x2, y2) = line
    thin = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    style = strong(size_pt, SANGUINE)
    length = abs(x2 - x1) + abs(y2 - y1)
    gap = canvas.width(says, style) / 2 + 1.2
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    fits = length > 2 * gap + 4
    if fits:
        dx, dy = (x2 - x1) / length * gap, (y2 - y1) / length * gap
        canvas.line((x1, y1), (middle[0] - dx, middle[1] - dy), thin)
        canvas.line((middle[0] + dx, middle[1] + dy), (x2, y2), thin)
    else:
        canvas.line((x1, y1), (x2, y2), thin)
    for x, y in line:
        canvas.line((x - 0.8, y + 0.8), (x + 0.8, y - 0.8), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    drop = pt_to_mm(size_pt) * 0.36 if fits else -1.2
    upright = turn_deg != 0
    at = (middle[0] + drop, middle[1]) if upright else (middle[0], middle[1] + drop)
    canvas.text(at, says, style, align="centre", turn_deg=turn_deg)


def draw_way_up(canvas: PdfCanvas, placement: MapPlacement) -> None:
    """An arrow at the right of the drawing, and the scale of the drawing under it."""
    support, pack = placement.support, placement.pack
    x, size = support.right + 4.5 * pack.scale, pack.type_pt(7)
    top = support.top
    canvas.line(
        (x, top + 9 * pack.scale), (x, top + 1.5), LineStyle(ink=SANGUINE, width_mm=FIRM_MM)
    )
    arrow_head(canvas, (x, top), "up", 2.4 * pack.scale)
    says = pack.words("sheet.top")
    middle = max(x, support.right + _CLEAR_MM + canvas.width(says, body(size)) / 2)
    canvas.text((middle, top + 12 * pack.scale), says, body(size), align="centre")
    drawn = pack.words(
        "map.drawn-mirrored" if pack.spec.print.mirror else "map.drawn",
        scale=pack.words.number(1 / placement.scale, 1),
    )
    canvas.text(
        (support.right, support.bottom + 3.6 * pack.scale), drawn, body(size), align="right"
    )
    if placement.border_mm > 0:
        _border_mark(canvas, placement)


def _border_mark(canvas: PdfCanvas, placement: MapPlacement) -> None:
    thin = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    support, picture = placement.support, placement.picture
    for x, y, x2, y2 in (
        (support.left, support.top, picture.left, picture.top),
        (support.right, support.top, picture.right, picture.top),
        (support.left, support.bottom, picture.left, picture.bottom),
        (support.right, support.bottom, picture.right, picture.bottom),
    ):
        canvas.line((x, y), (x2, y2), thin)
