"""Page 1, the assembly map: how the pieces join, to scale, over a faint picture.

Composed like a plate of an atlas: a title and four figures above, the drawing with air
around it in the middle, two short tables below. The drawing stands upright whatever the
sheets do, because it shows the picture as it will hang.
"""

from __future__ import annotations

import io

from PIL import Image

from worker.pages.lengths import stack_name
from worker.pages.map.dimensions import draw_check_lengths, draw_way_up
from worker.pages.map.legend import PROTECTED
from worker.pages.map.placement import Plate, plate_for
from worker.pages.map.tables import draw_header, draw_tables, tables_height
from worker.pages.page_frame import Job, without_lap
from worker.pages.tone_key import draw_key, key_height
from worker.pages.traced_lines import SmallLook, draw_small_strokes
from worker.pdf.palette import (
    FINE_MM,
    FIRM_MM,
    GRAPHITE,
    HAIR_MM,
    PAPER,
    PENCIL,
    SANGUINE,
    SMALLEST_PT,
    WASH,
    strong,
)
from worker.pdf.pen import Pen, Point, Stroke
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: How much paper shows through the picture: labels and seams must lead.
_VEIL = 0.62
_JPEG_QUALITY = 82
#: Lines are paler than what is drawn over them.
MAP_LINES = SmallLook(most=12_000, grey=0.5)


def draw_map(pen: Pen, job: Job, faint: Image.Image | None) -> None:
    """Draw the map page; `faint` is None where lines alone are drawn."""
    content = content_of(job)
    below_header = draw_header(pen, job, content)
    above_tables = content.bottom - tables_height(job)
    above_key = above_tables - key_height(job)
    room = Rect(content.left, below_header, content.width, above_key - below_header)
    plate = plate_for(job, room)
    draw_plate(pen, plate, faint)
    draw_check_lengths(pen, plate)
    draw_way_up(pen, plate)
    draw_key(pen, job, Rect(content.left, above_key, content.width, above_tables - above_key))
    tables = Rect(content.left, above_tables, content.width, content.bottom - above_tables)
    draw_tables(pen, plate, tables)


def draw_plate(pen: Pen, plate: Plate, faint: Image.Image | None) -> None:
    """The drawing alone: faint picture, lines, protected areas, tape, seams, labels."""
    _support(pen, plate)
    if faint:
        _picture(pen, plate, faint)
    if plate.job.aids.lines:
        draw_small_strokes(pen, plate.picture, plate.scale, plate.job.aids.lines, MAP_LINES)
    _protected(pen, plate)
    _tape(pen, plate)
    _seams(pen, plate)
    _pieces(pen, plate)
    _edges(pen, plate)


def content_of(job: Job) -> Rect:
    """The page inside quiet margins."""
    area, quiet = job.printable, 15.0 * job.scale
    sheet, margin = job.plan.sheet, job.spec.sheet.margin_mm
    left, top = max(quiet, margin.left), max(quiet, margin.top)
    right = min(sheet.width_mm - quiet, area.right)
    bottom = min(sheet.height_mm - quiet * 0.8, area.bottom)
    return Rect(left, top, right - left, bottom - top)


def _support(pen: Pen, plate: Plate) -> None:
    if plate.border_mm > 0:
        pen.rect(plate.support, stroke=Stroke(ink=PENCIL, width_mm=HAIR_MM))


def _picture(pen: Pen, plate: Plate, faint: Image.Image) -> None:
    """The picture with paper showing through; below lines it is pale already."""
    veil = 0.0 if plate.job.spec.tone.style == "mixed" else _VEIL
    veiled = Image.blend(faint, Image.new(faint.mode, faint.size, _white(faint.mode)), veil)
    data = io.BytesIO()
    veiled.save(data, "JPEG", quality=_JPEG_QUALITY)
    pen.jpeg(data.getvalue(), faint.size, plate.picture, grey=faint.mode == "L", turned=False)


def _white(mode: str) -> int | tuple[int, int, int]:
    return 255 if mode == "L" else (255, 255, 255)


def _protected(pen: Pen, plate: Plate) -> None:
    """A dotted frame with a rim of paper around what no seam crosses."""
    for area in plate.job.plan.protected_mm:
        frame = plate.area(area)
        pen.rect(frame, stroke=Stroke(ink=PAPER, width_mm=FIRM_MM + 0.35))
        pen.rect(frame, stroke=PROTECTED)


def _tape(pen: Pen, plate: Plate) -> None:
    rim = Stroke(ink=SANGUINE, width_mm=0.15)
    for spot in plate.job.plan.tape_spots:
        pen.rect(plate.area(spot.rect_mm), fill=WASH, stroke=rim)


def _seams(pen: Pen, plate: Plate) -> None:
    """Seams with a thin rim of paper; with a lap, dashes where the lower piece ends."""
    weight = FIRM_MM if plate.roomy else FINE_MM
    lines = [(plate.at(seam.from_mm), plate.at(seam.to_mm)) for seam in plate.job.plan.seams]
    for width, ink in ((weight + 0.35, PAPER), (weight, GRAPHITE)):
        for start, end in lines:
            pen.line(start, end, Stroke(ink=ink, width_mm=width))
    dashes = Stroke(ink=GRAPHITE, width_mm=HAIR_MM, dash_mm=(0.9, 0.7))
    for piece in plate.job.plan.pieces:
        area = plate.area(piece.picture_rect_mm)
        if piece.lap_right_mm > 0:
            pen.line((area.right, area.top), (area.right, area.bottom), dashes)
        if piece.lap_bottom_mm > 0:
            pen.line((area.left, area.bottom), (area.right, area.bottom), dashes)


def _pieces(pen: Pen, plate: Plate) -> None:
    """Labels; where there is room also the trim stack and the pass."""
    stacked = plate.job.plan.trim_stacks if plate.job.stacked else ()
    stacks = {
        label: stack_name(number) for number, stack in enumerate(stacked) for label in stack.labels
    }
    passes = {label: turn.number for turn in plate.job.plan.passes for label in turn.labels}
    size_pt = plate.label_pt
    for piece in plate.job.plan.pieces:
        area = plate.area(without_lap(piece))
        middle = (area.left + area.width / 2, area.top + area.height / 2)
        style = strong(size_pt)
        pen.halo((middle[0], middle[1] + pt_to_mm(size_pt) * 0.36), piece.label, style, PAPER)
        if not plate.tells_all:
            continue
        small = max(SMALLEST_PT, size_pt * 0.4)
        below = middle[1] + pt_to_mm(size_pt) * 0.36 + pt_to_mm(small) * 1.35
        _pair(pen, (middle[0], below), stacks.get(piece.label, ""), passes.get(piece.label), small)


def _pair(pen: Pen, at: Point, stack: str, turn: int | None, size_pt: float) -> None:
    """A stack's roman number, if it has one, and in a ring the number of a pass."""
    unit, style = pt_to_mm(size_pt), strong(size_pt, PENCIL)
    wide = pen.width(stack, style) + unit * 0.4 if stack else 0.0
    radius = unit * (0.75 if (turn or 0) < 100 else 1.0)  # noqa: PLR2004 - three figures need room.
    left, middle = at[0] - wide / 2 - radius, at[1] - unit * 0.36
    if stack:
        pen.halo((left + (wide - unit * 0.4) / 2, at[1]), stack, style, PAPER)
    if turn is not None:
        ring = (left + wide + radius, middle)
        pen.circle(ring, radius, fill=SANGUINE)
        pen.text((ring[0], at[1]), str(turn), strong(size_pt, PAPER), align="centre")


def _edges(pen: Pen, plate: Plate) -> None:
    pen.rect(plate.picture, stroke=Stroke(ink=GRAPHITE, width_mm=FIRM_MM))
