"""One sheet page: the piece at its true size, and in the slug all that joining it takes.

Everything said about edges is said in the page's own frame: what stands at the right is
what meets the piece at the right of the page as it lies before you, also where the
picture is turned; an arrow says where the picture's top is. A scale bar across stands in
the foot strip. A scale bar down needs paper beside or below the piece; where the piece
leaves none, the length from the head cut to the foot cut is printed in figures and is
the length to measure down the page.
"""

from __future__ import annotations

from dataclasses import dataclass

from worker.layout.grid import squares_over
from worker.pages.grid.squares import GridPlace, draw_grid, draw_square_names, look_of
from worker.pages.lengths import measures_for
from worker.pages.page_frame import Frame, without_lap
from worker.pages.sheet.head import draw_head
from worker.pages.sheet.laps import draw_laps
from worker.pages.sheet.marks import arrow_head, cut_lines
from worker.pages.sheet.scale_bar import draw_scale_bar, scale_bar
from worker.pages.traced_lines import draw_strokes
from worker.pdf.indexed_image import Flat
from worker.pdf.palette import PENCIL, SMALLEST_PT, body, strong
from worker.pdf.pen import Pen
from worker.spec.plan import Piece, Rect

_GAP_MM = 3.5
_FULL_BARS = ("100 mm", "4 in")


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
    flat: Flat | None = None


def draw_sheet(pen: Pen, frame: Frame, printed: PrintedPiece) -> None:
    """Draw one sheet page."""
    _ground(pen, frame, printed)
    _drawn(pen, frame)
    draw_laps(pen, frame)
    cut_lines(pen, frame)
    draw_head(pen, frame)
    _foot(pen, frame)
    _beside(pen, frame)
    _below(pen, frame)


def _ground(pen: Pen, frame: Frame, printed: PrintedPiece) -> None:
    """What the piece is printed from."""
    if printed.flat:
        pen.flat(printed.flat, frame.cut, turned=frame.turned)
    elif printed.jpeg:
        size_px = (printed.width_px, printed.height_px)
        pen.jpeg(printed.jpeg, size_px, frame.cut, grey=printed.grey, turned=frame.turned)


def _drawn(pen: Pen, frame: Frame) -> None:
    """Grid and lines; lines lie on the grid's, whose rims would cut them."""
    spec, lines, grid = frame.job.spec, frame.job.aids.lines, frame.job.spec.grid
    squares = squares_over(frame.job.plan.picture, grid.square_mm) if grid else None
    if grid and squares:
        draw_grid(
            pen, squares, look_of(grid, spec.tone), _place(frame, frame.piece.picture_rect_mm)
        )
    if lines:
        draw_strokes(pen, frame, lines)
    if grid and squares:
        place = _place(frame, without_lap(frame.piece))
        draw_square_names(pen, squares, look_of(grid, spec.tone), place)


def _place(frame: Frame, part_mm: Rect) -> GridPlace:
    """Where a part of this piece lies on its page."""
    whole = frame.piece.picture_rect_mm

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return frame.on_page(point[0] - whole.left, point[1] - whole.top)

    return GridPlace(part_mm=part_mm, area=frame.cut, at=at, turned=frame.turned)


def _foot(pen: Pen, frame: Frame) -> None:
    """The scale bar across, and how to print."""
    strip, print_ = frame.foot, frame.job.spec.print
    x, y = strip.left + 3.0, strip.top + 1.6
    crowded = strip.top < frame.cut.bottom + strip.height
    inches = measures_for(frame.job.spec.sheet.format).inches
    room = strip.right - x - 14.0
    bar = scale_bar(inches=inches, correction=print_.across_correction, room_mm=room)
    small = body(SMALLEST_PT, PENCIL)
    if bar:
        draw_scale_bar(pen, (x, y), bar, down=False)
        x += bar.drawn_mm + 1.5
        x += pen.text((x, y + 1.5), bar.says, strong(SMALLEST_PT)) + _GAP_MM
    if crowded and frame.neighbours("bottom"):
        x += _who_below(pen, frame, x, y + 1.5) + _GAP_MM
    room = strip.right - 2.0 - x
    note = next((note for note in _notes(frame) if pen.width(note, small) <= room), "")
    pen.text((strip.right - 2.0, y + 1.5), note, small, align="right")


def _notes(frame: Frame) -> tuple[str, ...]:
    """How to print, from the fullest wording to the shortest."""
    mirrored = " Mirrored." if frame.job.spec.print.mirror else ""
    return (
        f"Print at actual size, 100 %.{mirrored}",
        f"Print at 100 %.{mirrored}",
        f"100 %.{mirrored}",
        "100 %",
    )


def _beside(pen: Pen, frame: Frame) -> None:
    """In the room at the right of the piece: who meets it there, and a scale bar down."""
    cut, room = frame.cut, frame.room("right")
    labels = frame.neighbours("right")
    if labels and room >= 4.5:  # noqa: PLR2004 - the height of the label's letters and air.
        x, y = cut.right + 3.4, cut.top + cut.height / 2
        pen.text((x, y), " ".join(labels), strong(9), align="centre", turn_deg=90)
        half = pen.width(" ".join(labels), strong(9)) / 2
        arrow_head(pen, (cut.right + 3.2, y - half - 2.0), "right", 1.8)
    if room >= 7.0:  # noqa: PLR2004 - the bar, its figure and air.
        _bar_down(pen, frame, cut.right + (7.0 if room >= 12 else 3.0), cut.top + 2.0)  # noqa: PLR2004 - beside the label, or before it.


def _bar_down(pen: Pen, frame: Frame, x: float, top: float) -> None:
    inches = measures_for(frame.job.spec.sheet.format).inches
    room = frame.foot.top - top - 3.0
    correction = frame.job.spec.print.down_correction
    bar = scale_bar(inches=inches, correction=correction, room_mm=room)
    # A shorter bar would be read less well than the piece itself from cut to cut.
    if bar is None or bar.says not in _FULL_BARS:
        return
    draw_scale_bar(pen, (x, top), bar, down=True)
    pen.text((x + 3.4, top + bar.drawn_mm), bar.says, strong(SMALLEST_PT), turn_deg=90)


def _below(pen: Pen, frame: Frame) -> None:
    """In the room below a piece: who meets it there; a scale bar down where none is beside."""
    cut, room = frame.cut, frame.foot.top - frame.cut.bottom
    if room < frame.foot.height:
        return
    if frame.neighbours("bottom"):
        _who_below(pen, frame, cut.left + cut.width / 2 - 4.0, cut.bottom + 3.6)
    if frame.room("right") < 7.0:  # noqa: PLR2004 - as beside the piece.
        _bar_down(pen, frame, cut.left + 3.0, cut.bottom + 6.0)


def _who_below(pen: Pen, frame: Frame, x: float, y: float) -> float:
    arrow_head(pen, (x + 0.9, y), "down", 1.8)
    labels = " ".join(frame.neighbours("bottom"))
    return 2.6 + pen.text((x + 2.6, y), labels, strong(9 if y < frame.foot.top else SMALLEST_PT))
