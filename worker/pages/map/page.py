"""Page 1, the assembly map: how the pieces join, to scale, over a faint picture.

A title and four figures are above, the drawing in the middle with space around it, two short
tables below. The drawing is always upright, because it shows the picture as it will hang.
"""

from __future__ import annotations

from PIL import Image

from worker.pages.lengths import stack_name
from worker.pages.map.dimensions import draw_check_lengths, draw_way_up
from worker.pages.map.legend import BLANK, LAP, draw_tape
from worker.pages.map.picture import draw_faint_picture, draw_protected_ground
from worker.pages.map.placement import MapPlacement, place_map
from worker.pages.map.tables import draw_header, draw_tables, tables_height
from worker.pages.pack_content import PackContent, without_lap
from worker.pages.tone_key import draw_key, key_height
from worker.pages.traced_lines import SmallLineStyle, draw_small_strokes
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import (
    BLACK,
    FINE_MM,
    FIRM_MM,
    HAIR_MM,
    PAPER,
    SMALLEST_PT,
    strong,
)
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Lines are paler than what is drawn over them.
MAP_LINES = SmallLineStyle(most=12_000, grey=0.5)


def draw_map(canvas: PdfCanvas, pack: PackContent, faint: Image.Image | None) -> None:
    """Draw the map page; `faint` is None where lines alone are drawn."""
    content = content_of(pack)
    below_header = draw_header(canvas, pack, content)
    above_tables = content.bottom - tables_height(pack, content.width)
    above_key = above_tables - key_height(pack)
    room = Rect(content.left, below_header, content.width, above_key - below_header)
    placement = place_map(pack, room)
    draw_map_picture(canvas, placement, faint)
    draw_check_lengths(canvas, placement)
    draw_way_up(canvas, placement)
    draw_key(canvas, pack, Rect(content.left, above_key, content.width, above_tables - above_key))
    tables = Rect(content.left, above_tables, content.width, content.bottom - above_tables)
    draw_tables(canvas, placement, tables)


def draw_map_picture(canvas: PdfCanvas, placement: MapPlacement, faint: Image.Image | None) -> None:
    """The drawing alone: faint picture, lines, protected areas, tape, seams, labels."""
    _support(canvas, placement)
    if faint:
        draw_faint_picture(canvas, placement, faint)
    else:
        draw_protected_ground(canvas, placement)
    if placement.pack.aids.lines:
        draw_small_strokes(
            canvas, placement.picture, placement.scale, placement.pack.aids.lines, MAP_LINES
        )
    _tape(canvas, placement)
    _seams(canvas, placement)
    if placement.pack.plan.seams:
        _pieces(canvas, placement)
    _edges(canvas, placement)


def content_of(pack: PackContent) -> Rect:
    """The page inside quiet margins."""
    area, quiet = pack.printable, 15.0 * pack.scale
    sheet, margin = pack.plan.sheet, pack.spec.sheet.margin_mm
    left, top = max(quiet, margin.left), max(quiet, margin.top)
    right = min(sheet.width_mm - quiet, area.right)
    bottom = min(sheet.height_mm - quiet * 0.8, area.bottom)
    return Rect(left, top, right - left, bottom - top)


def _support(canvas: PdfCanvas, placement: MapPlacement) -> None:
    if placement.border_mm > 0:
        canvas.rect(placement.support, stroke=LineStyle(ink=BLACK, width_mm=HAIR_MM))


def _tape(canvas: PdfCanvas, placement: MapPlacement) -> None:
    for spot in placement.pack.plan.tape_spots:
        draw_tape(canvas, placement.area(spot.rect_mm))


def _seams(canvas: PdfCanvas, placement: MapPlacement) -> None:
    """Seams with a thin rim of paper; with a lap, dashes where the lower piece ends."""
    weight = FIRM_MM if placement.roomy else FINE_MM
    lines = [
        (placement.at(seam.from_mm), placement.at(seam.to_mm)) for seam in placement.pack.plan.seams
    ]
    for width, ink in ((weight + 0.35, PAPER), (weight, BLACK)):
        for start, end in lines:
            canvas.line(start, end, LineStyle(ink=ink, width_mm=width))
    for piece in placement.pack.plan.pieces:
        area = placement.area(piece.picture_rect_mm)
        if piece.lap_right_mm > 0:
            canvas.line((area.right, area.top), (area.right, area.bottom), LAP)
        if piece.lap_bottom_mm > 0:
            canvas.line((area.left, area.bottom), (area.right, area.bottom), LAP)


def _pieces(canvas: PdfCanvas, placement: MapPlacement) -> None:
    """Labels; a ring under those with nothing to trace; where there is room also the trim stack."""
    stacked = placement.pack.plan.trim_stacks if placement.pack.stacked else ()
    stacks = {
        label: stack_name(number) for number, stack in enumerate(stacked) for label in stack.labels
    }
    blank, size_pt = placement.pack.aids.blank, placement.label_pt
    for piece in placement.pack.plan.pieces:
        area = placement.area(without_lap(piece))
        middle = (area.left + area.width / 2, area.top + area.height / 2)
        style = strong(size_pt)
        canvas.halo((middle[0], middle[1] + pt_to_mm(size_pt) * 0.36), piece.label, style, PAPER)
        if not placement.tells_all:
            if piece.label in blank:
                unit = pt_to_mm(size_pt)
                ring = (middle[0], middle[1] + unit * 0.85)
                canvas.circle(ring, unit * 0.3, fill=PAPER, stroke=BLANK)
            continue
        small = max(SMALLEST_PT, size_pt * 0.4)
        below = middle[1] + pt_to_mm(size_pt) * 0.36 + pt_to_mm(small) * 1.35
        _signs(
            canvas,
            (middle[0], below),
            stacks.get(piece.label, ""),
            small,
            blank=piece.label in blank,
        )


def _signs(canvas: PdfCanvas, at: Point, stack: str, size_pt: float, *, blank: bool) -> None:
    """A trim stack's roman number, if any, and a ring where there is nothing to trace."""
    unit, style = pt_to_mm(size_pt), strong(size_pt)
    radius = unit * 0.75
    wide, ring = canvas.width(stack, style), 2 * radius if blank else 0.0
    gap = unit * 0.4 if stack and blank else 0.0
    left = at[0] - (wide + gap + ring) / 2
    if stack:
        canvas.halo((left + wide / 2, at[1]), stack, style, PAPER)
    if blank:
        middle = (left + wide + gap + radius, at[1] - unit * 0.36)
        canvas.circle(middle, radius, fill=PAPER, stroke=BLANK)


def _edges(canvas: PdfCanvas, placement: MapPlacement) -> None:
    canvas.rect(placement.picture, stroke=LineStyle(ink=BLACK, width_mm=FIRM_MM))
