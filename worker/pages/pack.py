"""Write a pack as one PDF: map, guide, grid, then sheets, each as soon as its piece is made."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from PIL import Image

from worker.pages.full_size import draw_border
from worker.pages.grid.page import draw_grid_pages
from worker.pages.guide.page import draw_guide
from worker.pages.map.page import draw_map
from worker.pages.pack_content import Aids, PackContent, PackText, SheetPage
from worker.pages.sheet.over_piece import draw_over_piece
from worker.pages.sheet.page import PrintedPiece, draw_piece, draw_sheet
from worker.pdf.canvas import PdfCanvas
from worker.pdf.catalog import PageName
from worker.pdf.text import clean
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Spec
from worker.units import mm_to_pt
from worker.words.catalogue import Words

__all__ = [
    "Aids",
    "PackText",
    "PrintedPiece",
    "page_names",
    "write_full_size",
    "write_grid",
    "write_map",
    "write_pack",
    "write_sheet",
]


def write_pack(  # noqa: PLR0913 - one call takes every part of a pack by name.
    path: Path,
    *,
    spec: Spec,
    plan: Plan,
    text: PackText,
    faint: Image.Image | None,
    printed: Iterable[PrintedPiece],
    small: Image.Image | None = None,
    aids: Aids | None = None,
) -> None:
    """Write the whole pack.

    Args:
        path: The file to write; nothing else is written.
        spec: The spec.
        plan: Its plan.
        text: Title and number.
        faint: The whole picture, reduced, for the map; None where lines alone are drawn.
        printed: The pieces in page order; taken one by one, and released once written.
        small: The whole picture, larger than `faint`, for the gridded reference.
        aids: Lines to trace, and the tones of a picture in values.

    Raises:
        OSError: The file cannot be written.
    """
    pack = PackContent(spec=spec, plan=plan, text=text, aids=aids or Aids())
    names = page_names(plan, pack.words)
    with PdfWriter(path, plan.sheet, title=_document_title(text), names=names) as pdf:
        canvas = PdfCanvas(pdf, grey=spec.print.black_only)
        if plan.map_pages:
            draw_map(canvas, pack, faint)
            _turn_over(canvas)
        for draw_page in (*draw_guide(pack), *draw_grid_pages(pack, small)):
            draw_page(canvas)
            _turn_over(canvas)
        for piece in printed:
            _sheet_page(canvas, pack, piece)
        pdf.save()


def write_grid(path: Path, pack: PackContent, small: Image.Image | None) -> None:
    """Write the grid's pages alone: the gridded reference, and where to tick the support.

    Args:
        path: The file to write.
        pack: With `grid_alone`, and a grid in its spec.
        small: The whole picture, reduced, with its printed tones; None where lines alone are drawn.

    Raises:
        OSError: The file cannot be written.
    """
    names = [PageName(label=pack.words("pack.grid-page", page=page)) for page in (1, 2)]
    title = _document_title(pack.text)
    with PdfWriter(path, pack.plan.sheet, title=title, names=names) as pdf:
        canvas = PdfCanvas(pdf, grey=pack.spec.print.black_only)
        for draw_page in draw_grid_pages(pack, small):
            draw_page(canvas)
            _turn_over(canvas)
        pdf.save()


def write_map(  # noqa: PLR0913 - as above.
    path: Path,
    *,
    spec: Spec,
    plan: Plan,
    text: PackText,
    faint: Image.Image | None,
    aids: Aids,
) -> None:
    """Write the map alone, to be shown on a screen: a pack of one sheet has no such page.

    Raises:
        OSError: The file cannot be written.
    """
    pack = PackContent(spec=spec, plan=plan, text=text, aids=aids)
    with PdfWriter(path, plan.sheet, title=_document_title(text), names=()) as pdf:
        canvas = PdfCanvas(pdf, grey=spec.print.black_only)
        draw_map(canvas, pack, faint)
        _turn_over(canvas)
        pdf.save()


def write_sheet(  # noqa: PLR0913 - as above.
    path: Path,
    *,
    spec: Spec,
    plan: Plan,
    text: PackText,
    printed: PrintedPiece,
    aids: Aids | None = None,
) -> None:
    """Write one sheet page alone, for a reprint: the same drawing as in the pack.

    Raises:
        OSError: The file cannot be written.
    """
    pack = PackContent(spec=spec, plan=plan, text=text, aids=aids or Aids())
    names = [PageName(label=printed.piece.label)]
    with PdfWriter(path, plan.sheet, title=_document_title(text), names=names) as pdf:
        _sheet_page(PdfCanvas(pdf), pack, printed)
        pdf.save()


def write_full_size(  # noqa: PLR0913 - as above.
    path: Path,
    *,
    spec: Spec,
    plan: Plan,
    text: PackText,
    printed: Iterable[PrintedPiece],
    aids: Aids,
    corrected: bool,
) -> None:
    """Write the whole picture on one page.

    Args:
        path: The file to write.
        spec: Of a printer of which nothing is known.
        plan: With the whole picture on one page.
        text: Title and number.
        printed: The parts of the picture in their order; released once written.
        aids: Lines to trace, and the tones of a picture in values.
        corrected: Whether the pack's sheets are corrected for their printer.

    Raises:
        OSError: The file cannot be written.
    """
    pack = PackContent(spec=spec, plan=plan, text=text, aids=aids)
    (whole,) = plan.pieces
    page = SheetPage(pack=pack, piece=whole)
    with PdfWriter(path, plan.sheet, title=_document_title(text)) as pdf:
        canvas = PdfCanvas(pdf, grey=True)
        for part in printed:
            draw_piece(canvas, SheetPage(pack=pack, piece=part.piece), part)
        draw_over_piece(canvas, page)
        draw_border(canvas, page, corrected=corrected)
        _turn_over(canvas, trim_mm=whole.sheet_rect_mm)
        pdf.save()


def page_names(plan: Plan, words: Words) -> tuple[PageName, ...]:
    """The names of a pack's pages, in page order."""
    map_name, guide_name, grid_name = words("pack.map"), words("pack.guide"), words("pack.grid")
    map_page = [PageName(label=map_name, bookmark=map_name)] if plan.map_pages else []
    guide = [
        PageName(label=words("pack.guide-page", page=1), bookmark=guide_name),
        PageName(label=words("pack.guide-page", page=2)),
    ]
    grid = [
        PageName(label=words("pack.grid-page", page=1), bookmark=grid_name),
        PageName(label=words("pack.grid-page", page=2)),
    ]
    if plan.first_sheet_page == plan.first_grid_page:
        grid = []
    before = [*map_page, *guide[: len(plan.guide_pages)], *grid]
    pieces = sorted(plan.pieces, key=lambda piece: piece.page)
    return (*before, *(PageName(label=piece.label, bookmark=piece.label) for piece in pieces))


def _document_title(text: PackText) -> str:
    return f"{clean(text.title)} ({text.number})"


def _sheet_page(canvas: PdfCanvas, pack: PackContent, printed: PrintedPiece) -> None:
    canvas.grey = printed.grey
    draw_sheet(canvas, SheetPage(pack=pack, piece=printed.piece), printed)
    _turn_over(canvas, trim_mm=printed.piece.sheet_rect_mm)


def _turn_over(canvas: PdfCanvas, *, trim_mm: Rect | None = None) -> None:
    """Finish the page; the next one starts with a fresh graphics state."""
    trim_pt = None
    if trim_mm is not None:
        sides = (trim_mm.left, trim_mm.top, trim_mm.width, trim_mm.height)
        trim_pt = Rect(*(mm_to_pt(side) for side in sides))
    canvas.pdf.finish_page(trim_pt)
    canvas.new_page()
