"""What is measured on the map: check lengths with their figures, the border, the scale, the top."""

from __future__ import annotations

from worker.pages.lengths import measures_for
from worker.pages.map.placement import Plate
from worker.pages.sheet.marks import arrow_head
from worker.pdf.palette import CHAIN_MM, FAINT, FIRM_MM, HAIR_MM, PENCIL, SANGUINE, body, strong
from worker.pdf.pen import Pen, Point, Stroke
from worker.units import pt_to_mm

#: The line of a diagonal check length.
CHAIN = Stroke(ink=SANGUINE, width_mm=0.15, dash_mm=CHAIN_MM)


def draw_check_lengths(pen: Pen, plate: Plate) -> None:
    """Width above and height at the left with their figures; the legend has the diagonals'."""
    job, picture, support = plate.job, plate.picture, plate.support
    say, size = measures_for(job.spec.sheet.format), job.type_pt(7.4)
    width, height = job.plan.picture.width_mm, job.plan.picture.height_mm
    away = 4.2 * job.scale
    y, x = support.top - away, support.left - away
    _dimension(pen, ((picture.left, y), (picture.right, y)), say.length(width), size, turn_deg=0)
    _dimension(pen, ((x, picture.bottom), (x, picture.top)), say.length(height), size, turn_deg=90)
    pen.line((picture.left, picture.top), (picture.right, picture.bottom), CHAIN)
    pen.line((picture.left, picture.bottom), (picture.right, picture.top), CHAIN)


def _dimension(
    pen: Pen, line: tuple[Point, Point], says: str, size_pt: float, *, turn_deg: float
) -> None:
    """A dimension line with oblique ends, broken for its figure."""
    (x1, y1), (x2, y2) = line
    thin = Stroke(ink=SANGUINE, width_mm=0.15)
    style = strong(size_pt, SANGUINE)
    length = abs(x2 - x1) + abs(y2 - y1)
    gap = pen.width(says, style) / 2 + 1.2
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    fits = length > 2 * gap + 4
    if fits:
        dx, dy = (x2 - x1) / length * gap, (y2 - y1) / length * gap
        pen.line((x1, y1), (middle[0] - dx, middle[1] - dy), thin)
        pen.line((middle[0] + dx, middle[1] + dy), (x2, y2), thin)
    else:
        pen.line((x1, y1), (x2, y2), thin)
    for x, y in line:
        pen.line((x - 0.8, y + 0.8), (x + 0.8, y - 0.8), Stroke(ink=SANGUINE, width_mm=0.25))
    drop = pt_to_mm(size_pt) * 0.36 if fits else -1.2
    upright = turn_deg != 0
    at = (middle[0] + drop, middle[1]) if upright else (middle[0], middle[1] + drop)
    pen.text(at, says, style, align="centre", turn_deg=turn_deg)


def draw_way_up(pen: Pen, plate: Plate) -> None:
    """An arrow at the right of the drawing, and the scale of the drawing under it."""
    support, job = plate.support, plate.job
    x, size = support.right + 4.5 * job.scale, job.type_pt(7)
    top = support.top
    pen.line((x, top + 9 * job.scale), (x, top + 1.5), Stroke(ink=SANGUINE, width_mm=FIRM_MM))
    arrow_head(pen, (x, top), "up", 2.4 * job.scale)
    pen.text((x, top + 12 * job.scale), "top", body(size), align="centre")
    words = f"drawn 1 : {1 / plate.scale:.1f}"
    if job.spec.print.mirror:
        words += " · mirrored, as it is printed"
    pen.text(
        (support.right, support.bottom + 3.6 * job.scale), words, body(size, PENCIL), align="right"
    )
    if plate.border_mm > 0:
        _border_mark(pen, plate)


def _border_mark(pen: Pen, plate: Plate) -> None:
    thin = Stroke(ink=FAINT, width_mm=HAIR_MM)
    support, picture = plate.support, plate.picture
    for x, y, x2, y2 in (
        (support.left, support.top, picture.left, picture.top),
        (support.right, support.top, picture.right, picture.top),
        (support.left, support.bottom, picture.left, picture.bottom),
        (support.right, support.bottom, picture.right, picture.bottom),
    ):
        pen.line((x, y), (x2, y2), thin)
