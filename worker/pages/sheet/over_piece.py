"""What is drawn over a piece: the grid, register marks, lines to trace, the names of squares.

Lines are drawn over the grid, so that its rims do not cut them. A close-up draws the same, of a
part of a piece.
"""

from __future__ import annotations

from worker.layout.grid import square_grid
from worker.pages.grid.squares import GridPlacement, draw_grid, draw_square_names, style_of_grid
from worker.pages.pack_content import SheetPage, without_lap
from worker.pages.sheet.register_marks import draw_register_marks
from worker.pages.traced_lines import draw_strokes
from worker.pdf.canvas import PdfCanvas
from worker.spec.plan import Rect


def draw_over_piece(canvas: PdfCanvas, page: SheetPage, *, named_mm: Rect | None = None) -> None:
    """Draw it.

    Args:
        canvas: Draws on the page.
        page: Says where the piece is.
        named_mm: The part of the picture in whose squares their names are: by default what is
            seen of the piece.
    """
    spec, lines, grid = page.pack.spec, page.pack.aids.lines, page.pack.spec.grid
    squares = square_grid(page.pack.plan.picture, grid.square_mm) if grid else None
    if grid and squares:
        place = _place(page, page.piece.picture_rect_mm)
        draw_grid(canvas, squares, style_of_grid(grid, spec.tone), place)
    draw_register_marks(canvas, page)
    if lines:
        draw_strokes(canvas, page, lines)
    if grid and squares:
        place = _place(page, named_mm or without_lap(page.piece))
        draw_square_names(canvas, squares, style_of_grid(grid, spec.tone), place)


def _place(page: SheetPage, part_mm: Rect) -> GridPlacement:
    """The placement of a part of this piece on its page."""
    whole = page.piece.picture_rect_mm

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return page.on_page(point[0] - whole.left, point[1] - whole.top)

    return GridPlacement(part_mm=part_mm, area=page.cut, at=at, turned=page.turned)
