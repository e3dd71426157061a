"""Marks on a lap: where the neighbour's edge goes. The neighbour covers them afterwards."""

from __future__ import annotations

from collections.abc import Iterator

from worker.pages.pack_content import SheetPage
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import BLACK, HAIR_MM, PAPER, SMALLEST_PT, TextStyle, body
from worker.spec.plan import REGISTER_MARK_MM, Rect

#: The dashed line keeps so far off register marks.
_OFF_MARKS_MM = 1.5
#: A lap narrower than this takes no words.
_LAP_FOR_WORDS_MM = 4.0
#: The patch that words stand on: from the dashed line, how high, and their baseline in it.
_AWAY_MM, _PATCH_MM, _BASE_MM = 0.7, 3.0, 2.25


def draw_laps(canvas: PdfCanvas, page: SheetPage) -> None:
    """Draw both laps of a piece, where it has them."""
    piece = page.piece
    whole = piece.picture_rect_mm
    if piece.lap_right_mm > 0:
        x = whole.width - piece.lap_right_mm
        words = _lap_says(page, piece.lap_right_mm, piece.neighbours["right"])
        ends = (x, 0.0), (x, whole.height)
        _lap(canvas, page, ends, (1.0, 0.0), words)
    if piece.lap_bottom_mm > 0:
        y = whole.height - piece.lap_bottom_mm
        words = _lap_says(page, piece.lap_bottom_mm, piece.neighbours["bottom"])
        ends = (0.0, y), (whole.width, y)
        _lap(canvas, page, ends, (0.0, 1.0), words)


def _lap_says(page: SheetPage, lap_mm: float, labels: tuple[str, ...]) -> str:
    """What stands in a lap; nothing where it is too narrow for letters."""
    if lap_mm < _LAP_FOR_WORDS_MM:
        return ""
    return page.pack.words("sheet.lap", labels=" ".join(labels))


def _lap(
    canvas: PdfCanvas,
    page: SheetPage,
    ends: tuple[tuple[float, float], tuple[float, float]],
    inward: tuple[float, float],
    words: str,
) -> None:
    """A dashed line on the covered side of the neighbour's edge: all its ink goes under."""
    for ink, width_mm, dash_mm in ((PAPER, HAIR_MM + 0.15, ()), (BLACK, HAIR_MM, (2.0, 1.5))):
        aside = width_mm / 2
        shift = inward[0] * aside, inward[1] * aside
        for part in _between_marks(page, ends):
            start, end = (page.on_page(x + shift[0], y + shift[1]) for x, y in part)
            canvas.line(start, end, LineStyle(ink=ink, width_mm=width_mm, dash_mm=dash_mm))
    if not words:
        return
    start, end = (page.on_page(*point) for point in ends)
    upright = abs(start[0] - end[0]) < abs(start[1] - end[1])
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    _lap_words(canvas, middle, words, upright=upright, into_left=page.turned)


def _between_marks(page: SheetPage, ends: tuple[Point, Point]) -> Iterator[tuple[Point, Point]]:
    """The line without its places at register marks, which are read there."""
    whole, half = page.piece.picture_rect_mm, REGISTER_MARK_MM[0] / 2 + _OFF_MARKS_MM
    standing = ends[0][0] == ends[1][0]
    along = 1 if standing else 0
    at, (start, end) = ends[0][1 - along], (point[along] for point in ends)
    corner = (whole.left, whole.top)
    marks = sorted(
        place[along] - corner[along]
        for seam in page.seams
        if seam.standing is standing and seam.between[0] == page.piece.label
        for place in seam.register_marks_mm
    )
    starts = (start, *(mark + half for mark in marks))
    for low, high in zip(starts, (*(mark - half for mark in marks), end), strict=True):
        yield ((at, low), (at, high)) if standing else ((low, at), (high, at))


def _lap_words(
    canvas: PdfCanvas, middle: tuple[float, float], words: str, *, upright: bool, into_left: bool
) -> None:
    """The word on a patch of paper white, on the side of the line that will be covered."""
    style: TextStyle = body(SMALLEST_PT)
    half = canvas.width(words, style) / 2 + 0.8
    x, y = middle
    if upright:
        left = x - _AWAY_MM - _PATCH_MM if into_left else x + _AWAY_MM
        canvas.rect(Rect(left, y - half, _PATCH_MM, 2 * half), fill=PAPER)
        canvas.text((left + _BASE_MM, y), words, style, align="centre", turn_deg=90)
    else:
        canvas.rect(Rect(x - half, y + _AWAY_MM, 2 * half, _PATCH_MM), fill=PAPER)
        canvas.text((x, y + _AWAY_MM + _BASE_MM), words, style, align="centre")
