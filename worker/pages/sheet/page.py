"""One sheet page: the piece at its true size, and in the slug what is needed to join it.

Edges are named as on the page: a label at the right is that of the piece that joins at the
right of the page, also where the picture is turned; an arrow shows the picture's top. A scale
bar across is in the foot strip. A scale bar down needs paper beside or below the piece; where
there is none, the length from the head cut to the foot cut is printed in figures, as the length
to measure down the page.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.pages.pack_content import SheetPage
from worker.pages.sheet.head import draw_head, mark_notes
from worker.pages.sheet.laps import draw_laps
from worker.pages.sheet.marks import arrow_head, cut_lines
from worker.pages.sheet.over_piece import draw_over_piece
from worker.pages.sheet.scale_bar import draw_scale_bar, scale_bar
from worker.pdf.canvas import PdfCanvas
from worker.pdf.indexed_image import IndexedImage
from worker.pdf.palette import SMALLEST_PT, body, strong
from worker.spec.plan import Piece

_GAP_MM = 3.5


@dataclass(frozen=True)
class PrintedPiece:
    """A piece, upright in the picture's orientation: as a JPEG, in flat tones, or as neither.

    Where lines alone are traced, the piece itself is nothing but paper.
    """

    piece: Piece
    jpeg: bytes = b""
    width_px: int = 0
    height_px: int = 0
    grey: bool = True
    indexed: IndexedImage | None = None


def draw_sheet(canvas: PdfCanvas, page: SheetPage, printed: PrintedPiece) -> None:
    """Draw one sheet page."""
    _draw_piece(canvas, page, printed)
    draw_over_piece(canvas, page)
    draw_laps(canvas, page)
    cut_lines(canvas, page)
    told = _foot(canvas, page)
    draw_head(canvas, page, tells_marks=page.marked and not told)
    _beside(canvas, page)
    _below(canvas, page)


def _draw_piece(canvas: PdfCanvas, page: SheetPage, printed: PrintedPiece) -> None:
    """What the piece is printed from."""
    if printed.indexed:
        canvas.indexed(printed.indexed, page.cut, turned=page.turned)
    elif printed.jpeg:
        size_px = (printed.width_px, printed.height_px)
        canvas.jpeg(printed.jpeg, size_px, page.cut, grey=printed.grey, turned=page.turned)


def _foot(canvas: PdfCanvas, page: SheetPage) -> bool:
    """The scale bar across, and how to print; whether it says what the register marks are."""
    strip, print_ = page.foot, page.pack.spec.print
    x, y = strip.left + 3.0, strip.top + 1.6
    crowded = strip.top < page.cut.bottom + strip.height
    room = strip.right - x - 14.0
    bar = scale_bar(page.pack.say, correction=print_.across_correction, room_mm=room)
    small = body(SMALLEST_PT)
    if bar:
        draw_scale_bar(canvas, (x, y), bar, down=False)
        x += bar.drawn_mm + 1.5
        x += canvas.text((x, y + 1.5), bar.says, strong(SMALLEST_PT)) + _GAP_MM
    if crowded and page.neighbours("bottom"):
        x += _who_below(canvas, page, x, y + 1.5) + _GAP_MM
    room = strip.right - 2.0 - x
    note = next((note for note in _notes(page) if canvas.width(note, small) <= room), "")
    canvas.text((strip.right - 2.0, y + 1.5), note, small, align="right")
    return any(words in note for words in mark_notes(page))


def _notes(page: SheetPage) -> tuple[str, ...]:
    """How to print and what is not traced, from the fullest wording to the shortest."""
    words, marks = page.pack.words, mark_notes(page)
    mirrored = f" {words('sheet.mirrored')}" if page.pack.spec.print.mirror else ""
    return (
        *(f"{words('sheet.print')}{mirrored} {mark}" for mark in marks),
        *(f"{words('sheet.print-shorter')}{mirrored} {mark}" for mark in marks),
        words("sheet.print") + mirrored,
        words("sheet.print-shorter") + mirrored,
        words("sheet.print-shortest") + mirrored,
        words("sheet.print-shortest"),
    )


def _beside(canvas: PdfCanvas, page: SheetPage) -> None:
    """In the room at the right of the piece: who meets it there, and a scale bar down."""
    cut, room = page.cut, page.room("right")
    labels = page.neighbours("right")
    # The bar down takes the place of these words where there is room for one of them only.
    if page.piece.flap == "right" and (4.5 <= room < 7.0 or room >= 12.0):  # noqa: PLR2004 - as below.
        x, y = cut.right + 3.4, cut.top + cut.height / 2
        says = page.pack.words("sheet.flap")
        canvas.text((x, y), says, strong(9), align="centre", turn_deg=90)
    if labels and room >= 4.5:  # noqa: PLR2004 - the height of the label's letters and air.
        x, y = cut.right + 3.4, cut.top + cut.height / 2
        canvas.text((x, y), " ".join(labels), strong(9), align="centre", turn_deg=90)
        half = canvas.width(" ".join(labels), strong(9)) / 2
        arrow_head(canvas, (cut.right + 3.2, y - half - 2.0), "right", 1.8)
    if room >= 7.0:  # noqa: PLR2004 - the bar, its figure and air.
        _bar_down(canvas, page, cut.right + (7.0 if room >= 12 else 3.0), cut.top + 2.0)  # noqa: PLR2004 - beside the label, or before it.


def _bar_down(canvas: PdfCanvas, page: SheetPage, x: float, top: float) -> None:
    room = page.foot.top - top - 3.0
    correction = page.pack.spec.print.down_correction
    bar = scale_bar(page.pack.say, correction=correction, room_mm=room)
    # A shorter bar would be read less well than the piece itself from cut to cut.
    if bar is None or not bar.full:
        return
    draw_scale_bar(canvas, (x, top), bar, down=True)
    canvas.text((x + 3.4, top + bar.drawn_mm), bar.says, strong(SMALLEST_PT), turn_deg=90)


def _below(canvas: PdfCanvas, page: SheetPage) -> None:
    """In the room below a piece: who meets it there; a scale bar down where none is beside."""
    cut, room = page.cut, page.foot.top - page.cut.bottom
    if room < page.foot.height:
        return
    if page.neighbours("bottom"):
        _who_below(canvas, page, cut.left + cut.width / 2 - 4.0, cut.bottom + 3.6)
    if page.room("right") < 7.0:  # noqa: PLR2004 - as beside the piece.
        _bar_down(canvas, page, cut.left + 3.0, cut.bottom + 6.0)


def _who_below(canvas: PdfCanvas, page: SheetPage, x: float, y: float) -> float:
    arrow_head(canvas, (x + 0.9, y), "down", 1.8)
    labels = " ".join(page.neighbours("bottom"))
    return 2.6 + canvas.text((x + 2.6, y), labels, strong(9 if y < page.foot.top else SMALLEST_PT))
