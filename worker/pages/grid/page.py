"""Two pages of a pack with a grid: the small gridded reference, and the grid to rule.

With these two pages a picture is drawn by eye, without transfer: what stands in a square
of the reference comes into the same square of the support, larger by one factor.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import partial

from PIL import Image

from worker.layout.grid import (
    GUTTER_MM,
    LEFT_OUT,
    SmallReference,
    SquareGrid,
    column_name,
    one_in,
    small_reference,
    square_grid,
)
from worker.pages.grid.squares import (
    GridPlacement,
    draw_grid,
    draw_square_names,
    name_pt,
    style_of_grid,
    thin,
)
from worker.pages.grid.support import draw_support_grid
from worker.pages.pack_content import PackContent
from worker.pages.traced_lines import SmallLineStyle, draw_small_strokes
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import BLACK, FIRM_MM, body, display, kicker, strong
from worker.pdf.text import clean
from worker.spec.plan import Rect
from worker.spec.spec import Grid
from worker.units import pt_to_mm
from worker.words.catalogue import Words

_JPEG_QUALITY = 88
#: Grids are drawn no heavier than this at a small scale.
_THIN_MM = 0.18
#: More lines than on the map, and darker, since it is drawn from.
_LINES = SmallLineStyle(most=30_000, grey=0.0)
#: Lines nearer than this would hide more of the picture than they show: with their
#: rims they take half a millimetre each way.
_NEAREST_MM = 1.5
#: Letters and figures nearer to each other than this, in heights of type, are thinned out.
_AIR = 1.5

DrawPage = Callable[[PdfCanvas], None]


def draw_grid_pages(pack: PackContent, small: Image.Image | None) -> list[DrawPage]:
    """The grid's pages, ready to be drawn one after the other; none where there is no grid.

    Args:
        pack: What its pages are drawn from.
        small: The whole picture, reduced, with its printed tones; None where lines alone
            are drawn.
    """
    grid = pack.spec.grid
    if grid is None:
        return []
    squares = square_grid(pack.plan.picture, grid.square_mm)
    return [
        partial(_draw_reference, pack=pack, grid=grid, small=small),
        partial(draw_support_grid, pack=pack, squares=squares, page=pack.first_grid_page + 1),
    ]


def _draw_reference(
    canvas: PdfCanvas, pack: PackContent, grid: Grid, small: Image.Image | None
) -> None:
    """The reduced picture under its grid, sideways where that makes it larger."""
    layout = small_reference(pack.plan.picture, pack.plan.sheet, pack.spec.sheet.margin_mm)
    if not layout.sideways:
        _reference(canvas, pack, grid, small, layout)
        return
    with canvas.sideways(pack.plan.sheet.width_mm):
        _reference(canvas, pack, grid, small, layout)


def _reference(
    canvas: PdfCanvas,
    pack: PackContent,
    grid: Grid,
    small: Image.Image | None,
    layout: SmallReference,
) -> None:
    squares, place = square_grid(pack.plan.picture, grid.square_mm), _place(pack, layout)
    each = one_in(grid.square_mm * place.scale, _NEAREST_MM)
    _head(canvas, pack, squares, layout, each)
    if small:
        if canvas.grey:
            small = small.convert("L")
        data = io.BytesIO()
        small.save(data, "JPEG", quality=_JPEG_QUALITY)
        grey = small.mode == "L"
        canvas.jpeg(data.getvalue(), small.size, layout.picture, grey=grey, turned=False)
    style = thin(style_of_grid(grid, pack.spec.tone), _THIN_MM)
    draw_grid(canvas, square_grid(pack.plan.picture, grid.square_mm * each), style, place)
    if pack.aids.lines:
        draw_small_strokes(canvas, layout.picture, place.scale, pack.aids.lines, _LINES)
    draw_square_names(canvas, squares, style, place)
    canvas.rect(layout.picture, stroke=LineStyle(ink=BLACK, width_mm=FIRM_MM / 2))
    _beside(canvas, squares, place, each)


def _place(pack: PackContent, layout: SmallReference) -> GridPlacement:
    picture, area = pack.plan.picture, layout.picture
    scale = area.width / picture.width_mm

    def at(point: Point) -> Point:
        return area.left + point[0] * scale, area.top + point[1] * scale

    whole = Rect(0.0, 0.0, picture.width_mm, picture.height_mm)
    return GridPlacement(part_mm=whole, area=area, at=at, scale=scale)


def _head(
    canvas: PdfCanvas, pack: PackContent, squares: SquareGrid, layout: SmallReference, each: int
) -> None:
    """Title, the factor, what a square measures here and on the support, and what is shown."""
    area, words = layout.area, pack.words
    y = area.top + 2.4
    page = pack.first_grid_page
    number = words("pack.page", number=pack.text.number, page=page, pages=pack.pages)
    right = canvas.text((area.right, y), number, body(7), align="right")
    heading = words("grid.reference-kicker")
    x = area.left + canvas.text((area.left, y), heading, kicker(6.8)) + 3
    title = canvas.fit(clean(pack.text.title), body(7), area.right - right - 4 - x)
    canvas.text((x, y), title, body(7))
    large, style = words("grid.reference-title"), display(17)
    size = style.size_pt * min(1.0, area.width / canvas.width(large, style))
    canvas.text((area.left, area.top + 10.8), large, display(size))
    for line, fact in enumerate(_facts(pack, squares, each)):
        y = area.top + 15.6 + 3.6 * line
        size = 7.6 * min(1.0, area.width / canvas.width(fact, body(7.6)))
        canvas.text((area.left, y), fact, body(size))


def _facts(pack: PackContent, squares: SquareGrid, each: int) -> tuple[str, ...]:
    say, words, factor = pack.say, pack.words, pack.plan.grid.enlargement
    letters = _letters(words, squares.columns)
    facts = [
        words(
            "grid.enlarged",
            factor=words.number(factor, 2),
            there=say.length(squares.side_mm),
            here=say.length(squares.side_mm / factor),
        ),
        words(
            "grid.squares",
            columns=words("grid.columns", count=squares.columns, letters=letters),
            rows=words("grid.rows", count=squares.rows),
        ),
    ]
    if _uneven(squares):
        facts[1] += f" {words('grid.uneven')}"
    if pack.spec.print.mirror:
        facts[1] += f" {words('grid.mirrored')}"
    if each > 1:
        facts.append(words("grid.left-out", each=each))
    return tuple(facts)


def _letters(words: Words, columns: int) -> str:
    """The first and the last, and which are not among them."""
    last = column_name(columns - 1)
    missing = [letter for letter in LEFT_OUT if len(last) > 1 or letter < last]
    if not missing:
        return words("grid.letters", last=last)
    return words("grid.letters-without", last=last, missing=words.listed(missing))


def _uneven(squares: SquareGrid) -> bool:
    """Whether the last column or row is not a whole square."""
    ends = (squares.columns_mm[-2:], squares.rows_mm[-2:])
    return any(end - start < squares.side_mm - 1e-6 for start, end in ends)


def _beside(canvas: PdfCanvas, squares: SquareGrid, place: GridPlacement, drawn: int) -> None:
    """Letters above the columns, figures at both sides of the rows, each behind a line."""
    area, side = place.area, squares.side_mm * place.scale
    style = strong(max(name_pt(side), 6.0))
    high = pt_to_mm(style.size_pt)
    widest = canvas.width(column_name(squares.columns - 1), style)
    each = one_in(side, widest + high * 0.6, of=drawn)
    for column in range(0, squares.columns, each):
        left, right = squares.columns_mm[column : column + 2]
        x = area.left + (left + right) / 2 * place.scale
        canvas.text((x, area.top - 1.6), column_name(column), style, align="centre")
    each = one_in(side, high * _AIR, of=drawn)
    for row in range(0, squares.rows, each):
        top, bottom = squares.rows_mm[row : row + 2]
        y = area.top + (top + bottom) / 2 * place.scale + high * 0.36
        canvas.text((area.left - GUTTER_MM / 2, y), str(row + 1), style, align="centre")
        canvas.text((area.right + GUTTER_MM / 2, y), str(row + 1), style, align="centre")
