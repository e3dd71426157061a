"""The whole picture on one page at its exact size, for the plotter of a copy shop.

It is drawn as a sheet is that has the whole picture on it, with a narrow border of its own in
place of the printer's margins: the cut all around, a scale bar each way, what it is and how to
print it. There are no seams, so no tape and no register marks, and no edge that keeps its paper.
No printer's correction is applied: what a pack is corrected for is another printer.

Pixels come in parts, row by row, and each reaches a little into the next ones, which are painted
over it. Parts that only touched would show fine light lines in renderers that soften the edges of
images (ISO 32000-1 leaves that to them, 10.6.5). Lines to trace are drawn once, over all of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from worker.pages.pack_content import SheetPage
from worker.pages.sheet.scale_bar import ScaleBar, draw_scale_bar, scale_bar
from worker.pages.tone_key import draw_small_key, small_key_width
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import BLACK, HAIR_MM, body, strong
from worker.picture.enlarge import piece_size
from worker.spec.plan import Piece, Plan, Rect, Size
from worker.spec.spec import Spec

#: Around the picture: room for the cut, a scale bar and its figure.
BORDER_MM = 8.0
#: Below it: the cut's ticks, a scale bar, and two rows of words.
FOOT_MM = 20.0
#: A smaller picture has a page of this size around it, which takes both bars whole and the words.
LEAST_MM = Size(170.0, 136.0)
#: What a scale bar takes at the most: 4 in.
_BAR_MM = 101.6
#: How far the cut is drawn beyond the picture's corners.
_TICK_MM = 5.0
#: Scale bars begin so far from a corner, clear of its ticks.
_ASIDE_MM = 4.0
#: Side of a part in pixels: about a sheet's piece, however large the picture is.
PART_PX = 2048
#: How far it reaches into those at its right and below it.
SHARED_PX = 8
_TEXT_PT = 8.0


def uncorrected(spec: Spec) -> Spec:
    """The spec for a printer of which nothing is known."""
    return replace(spec, print=replace(spec.print, across_correction=1.0, down_correction=1.0))


def on_one_page(plan: Plan) -> Plan:
    """The plan with one piece, the whole picture, on a page of its own."""
    picture = plan.picture
    width = max(picture.width_mm + 2 * BORDER_MM, LEAST_MM.width_mm)
    below = max(BORDER_MM + picture.height_mm + FOOT_MM, LEAST_MM.height_mm)
    whole = Rect(0.0, 0.0, picture.width_mm, picture.height_mm)
    place = Rect(BORDER_MM, BORDER_MM, picture.width_mm, picture.height_mm)
    return replace(
        plan,
        sheet=Size(width, below),
        sheet_count=1,
        rows=1,
        columns=1,
        pieces=(_piece(whole, place),),
        seams=(),
        tape_spots=(),
        trim_stacks=(),
    )


def parts(plan: Plan) -> Iterator[Piece]:
    """The picture of a page in parts on one grid of pixels, in the order in which they are drawn.

    Args:
        plan: What `on_one_page` returned.
    """
    (whole,) = plan.pieces
    place, picture = whole.sheet_rect_mm, plan.picture
    columns, rows = piece_size(whole.picture_rect_mm, plan.resolution.printed_ppi)
    for top, high in _stretches(picture.height_mm, rows):
        for left, wide in _stretches(picture.width_mm, columns):
            on_page = Rect(place.left + left, place.top + top, wide, high)
            yield _piece(Rect(left, top, wide, high), on_page)


def _stretches(length_mm: float, length_px: int) -> Iterator[tuple[float, float]]:
    """Where each part begins and how long it is, in mm; it ends with pixels of the next one."""
    for first in range(0, length_px, PART_PX):
        last = min(first + PART_PX + SHARED_PX, length_px)
        yield length_mm * first / length_px, length_mm * (last - first) / length_px


def _piece(picture_mm: Rect, page_mm: Rect) -> Piece:
    return Piece(
        label="",
        page=1,
        row=0,
        column=0,
        picture_rect_mm=picture_mm,
        lap_right_mm=0.0,
        lap_bottom_mm=0.0,
        sheet_rect_mm=page_mm,
        turned_deg=0,
        neighbours={},
    )


def draw_border(canvas: PdfCanvas, page: SheetPage, *, corrected: bool) -> None:
    """All that is around the picture.

    Args:
        canvas: Draws on the page.
        page: The page, with the whole picture as its piece.
        corrected: Whether the pack's sheets are corrected for their printer.
    """
    _cuts(canvas, page.cut)
    bar = scale_bar(page.pack.say, correction=1.0, room_mm=_BAR_MM)
    if bar is None:
        raise AssertionError("The page is made for a whole bar.")
    _bar_down(canvas, page.cut, bar)
    _foot(canvas, page, bar, corrected=corrected)


def _cuts(canvas: PdfCanvas, cut: Rect) -> None:
    """The picture's four edges, outside of it, and beyond its corners."""
    long = cut.width + 2 * _TICK_MM, cut.height + 2 * _TICK_MM
    for y in (cut.top - HAIR_MM, cut.bottom):
        canvas.rect(Rect(cut.left - _TICK_MM, y, long[0], HAIR_MM), fill=BLACK)
    for x in (cut.left - HAIR_MM, cut.right):
        canvas.rect(Rect(x, cut.top - _TICK_MM, HAIR_MM, long[1]), fill=BLACK)


def _bar_down(canvas: PdfCanvas, cut: Rect, bar: ScaleBar) -> None:
    x, top = cut.right + 2.0, cut.top + _ASIDE_MM
    draw_scale_bar(canvas, (x, top), bar, down=True)
    canvas.text((x + 3.9, top + bar.drawn_mm), bar.says, strong(_TEXT_PT), turn_deg=90)


def _foot(canvas: PdfCanvas, page: SheetPage, bar: ScaleBar, *, corrected: bool) -> None:
    """A scale bar, how to print, and what it is."""
    pack, size = page.pack, page.pack.plan.sheet
    left, right = BORDER_MM, size.width_mm - BORDER_MM
    top = size.height_mm - FOOT_MM + 5.8
    draw_scale_bar(canvas, (left, top), bar, down=False)
    x = left + bar.drawn_mm + 1.6
    x += canvas.text((x, top + 1.9), bar.says, strong(_TEXT_PT)) + 3.0
    tones = pack.aids.tones
    if tones is not None and right - x > small_key_width(tones):
        draw_small_key(canvas, tones, x, top - 1.2)
    bold, how = strong(_TEXT_PT), pack.words("full-size.print", length=bar.says)
    canvas.text((left, top + 6.8), canvas.fit(how, bold, right - left), bold)
    what, y = " ".join(_says(page, corrected=corrected)), top + 11.0
    x = left + canvas.text((left, y), what, body(_TEXT_PT)) + 3.0
    canvas.text((x, y), canvas.fit(pack.text.title, bold, max(right - x, 0.0)), bold)


def _says(page: SheetPage, *, corrected: bool) -> Iterator[str]:
    """What is told of the page besides its title; its number first, which nothing cuts off."""
    pack, words, picture = page.pack, page.pack.words, page.pack.plan.picture
    size = pack.say.size(picture.width_mm, picture.height_mm)
    yield f"{words('sheet.pack', number=pack.text.number)} · {size}."
    yield words("full-size.cut")
    if pack.spec.print.mirror:
        yield words("sheet.mirrored")
    if corrected:
        yield words("full-size.uncorrected")
