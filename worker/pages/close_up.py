"""What is drawn over a part of the picture, at true size, on a page as large as that part.

Each sheet draws on its own side of a seam, as it would be trimmed, by the functions that draw it
on its page. Nothing of the photograph is in it: pixels are laid below by whoever shows the part.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import replace

from worker.pages.pack_content import PackContent, SheetPage, without_lap
from worker.pages.sheet.over_piece import draw_over_piece
from worker.pdf.canvas import PdfCanvas
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Piece, Rect, Size


def seen_of(piece: Piece, part_mm: Rect) -> Rect | None:
    """What is seen of a piece within a part of the picture, once joined; None: nothing."""
    whole = without_lap(piece)
    left, top = max(whole.left, part_mm.left), max(whole.top, part_mm.top)
    right, bottom = min(whole.right, part_mm.right), min(whole.bottom, part_mm.bottom)
    return Rect(left, top, right - left, bottom - top) if left < right and top < bottom else None


def write_over(pack: PackContent, part_mm: Rect, size: Size, pieces: Iterable[Piece]) -> bytes:
    """Grid, register marks and lines of a part of the picture, as a PDF of one page.

    Args:
        pack: What the pack is drawn from.
        part_mm: The part.
        size: Of the page, whose top left is that of the part.
        pieces: Those of which something is seen.
    """
    file = io.BytesIO()
    with PdfWriter(file, size, title="") as pdf:
        canvas = PdfCanvas(pdf, grey=pack.spec.tone.colour_mode == "grey")
        for piece in pieces:
            seen = seen_of(piece, part_mm)
            if seen is None:
                continue
            page = SheetPage(pack=pack, piece=_cut_down(piece, seen, part_mm))
            with canvas.clipped(page.cut):
                draw_over_piece(canvas, page, named_mm=without_lap(piece))
        pdf.finish_page()
        pdf.save()
        return file.getvalue()


def _cut_down(piece: Piece, seen: Rect, part_mm: Rect) -> Piece:
    """A piece as if it were no more than what is seen of it, upright on the part's page."""
    on_page = Rect(seen.left - part_mm.left, seen.top - part_mm.top, seen.width, seen.height)
    return replace(
        piece,
        picture_rect_mm=seen,
        sheet_rect_mm=on_page,
        turned_deg=0,
        lap_right_mm=0.0,
        lap_bottom_mm=0.0,
    )
