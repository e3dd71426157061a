"""Page 5 of a pack with a grid: where to tick the support's edges, and how to rule.

Every tick is measured from one edge; stepping off square after square would add up each
error. That, a hard pencil and a try in a corner are common practice in studios.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from worker.layout.grid import SquareGrid, column_name, one_in
from worker.pages.map.page import content_of
from worker.pages.pack_content import PackContent
from worker.pages.section import Section, section
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import (
    BLACK,
    FIRM_MM,
    HAIR_MM,
    SANGUINE,
    body,
    display,
    kicker,
    strong,
)
from worker.pdf.text import clean
from worker.pdf.typeset import LEADING, draw_line, lines, tick_box
from worker.spec.plan import Rect
from worker.units import pt_to_mm

#: Of more ticks than this along an edge, only each second, fifth or tenth is listed and drawn.
_MOST_TICKS = 40
#: Height of the figure where hardly any room is left for it.
_SMALLEST_FIGURE_MM = 20.0
_TICK_MM, _STEP_PT = 2.2, 8.6
_CELL_MM, _CELL_IN_MM, _ROW_MM = 25.0, 30.0, 4.6


@dataclass(frozen=True, kw_only=True)
class Tick:
    """A mark on an edge of the support, between two columns or rows."""

    name: str
    place_mm: float


def draw_support_grid(canvas: PdfCanvas, pack: PackContent, squares: SquareGrid, page: int) -> None:
    """Draw the page: a figure of the support, the steps, and the ticks."""
    content = content_of(pack)
    border_mm = pack.spec.support.border_mm
    across = ticks(squares.columns_mm, border_mm, letters=True)
    down = ticks(squares.rows_mm, border_mm, letters=False)
    steps = _section(pack, squares)
    y = _head(canvas, pack, content, page)
    below = _steps_height(pack, steps, content.width)
    below += sum(_table_height(pack, marks, content.width) for marks in (across, down))
    room = Rect(content.left, y, content.width, content.bottom - y - below)
    y = _figure(canvas, pack, squares, room)
    y = _steps(canvas, pack, steps, Rect(content.left, y, content.width, 0.0))
    unit = pack.words("grid.inches" if pack.say.inches else "grid.mm")
    side = "right" if pack.spec.print.mirror else "left"
    room = Rect(content.left, y, content.width, content.bottom - y)
    title = pack.words(f"grid.across-from-{side}", unit=unit)
    y = _table(canvas, pack, title, (one_tick_in(squares.columns_mm), across), room)
    room = Rect(content.left, y, content.width, content.bottom - y)
    title = pack.words("grid.down", unit=unit)
    _table(canvas, pack, title, (one_tick_in(squares.rows_mm), down), room)


def one_tick_in(edges_mm: tuple[float, ...]) -> int:
    """Which of the edges between squares are ticked: each one, or of many each second ..."""
    return one_in(1.0, (len(edges_mm) - 2) / _MOST_TICKS)


def ticks(edges_mm: tuple[float, ...], border_mm: float, *, letters: bool) -> tuple[Tick, ...]:
    """The ticks along one edge, from the support's corner; its own corners need none."""
    last, each = len(edges_mm) - 1, one_tick_in(edges_mm)

    def name(number: int) -> str:
        if not 0 <= number < last:
            return ""
        return column_name(number) if letters else str(number + 1)

    found = (
        Tick(name=f"{name(number - 1)} | {name(number)}".strip(), place_mm=border_mm + edge)
        for number, edge in enumerate(edges_mm)
        if number % each == 0 or number == last
    )
    return tuple(found) if border_mm else tuple(found)[1:-1]


def _head(canvas: PdfCanvas, pack: PackContent, content: Rect, page: int) -> float:
    k, y, words = pack.scale, content.top, pack.words
    number = words("pack.page", number=pack.text.number, page=page, pages=pack.pages)
    right = canvas.text((content.right, y + 2 * k), number, body(7 * k), align="right")
    heading = kicker(6.8 * k)
    x = content.left + canvas.text((content.left, y + 2 * k), words("grid.kicker"), heading) + 3 * k
    title = canvas.fit(clean(pack.text.title), body(7 * k), content.right - right - 4 * k - x)
    canvas.text((x, y + 2 * k), title, body(7 * k))
    large, style = words("grid.title"), display(19 * k)
    size = style.size_pt * min(1.0, content.width / canvas.width(large, style))
    canvas.text((content.left, y + 11 * k), large, display(size))
    return y + 15 * k


def _figure(canvas: PdfCanvas, pack: PackContent, squares: SquareGrid, room: Rect) -> float:
    """The support with its ticks, to scale; returns where it ends."""
    k, support = pack.scale, pack.spec.support
    air = 8.0 * k
    high = max(room.height - 2 * air, _SMALLEST_FIGURE_MM)
    scale = min((room.width - 2 * air) / support.width_mm, high / support.height_mm, 1.0)
    wide, high = support.width_mm * scale, support.height_mm * scale
    left, top = room.left + (room.width - wide) / 2, room.top + air
    border = support.border_mm * scale
    outer = Rect(left, top, wide, high)
    fine, firm = LineStyle(ink=BLACK, width_mm=HAIR_MM), LineStyle(ink=BLACK, width_mm=FIRM_MM)
    xs = [left + border + x * scale for x in squares.columns_mm]
    ys = [top + border + y * scale for y in squares.rows_mm]
    if pack.spec.print.mirror:
        xs = [outer.left + outer.right - x for x in xs]
    each = one_tick_in(squares.columns_mm), one_tick_in(squares.rows_mm)
    for x in (*xs[: -1 : each[0]], xs[-1]):
        canvas.line((x, outer.top), (x, outer.bottom), fine)
        canvas.line((x, outer.top), (x, outer.top - _TICK_MM * k), firm)
        canvas.line((x, outer.bottom), (x, outer.bottom + _TICK_MM * k), firm)
    for y in (*ys[: -1 : each[1]], ys[-1]):
        canvas.line((outer.left, y), (outer.right, y), fine)
        canvas.line((outer.left, y), (outer.left - _TICK_MM * k, y), firm)
        canvas.line((outer.right, y), (outer.right + _TICK_MM * k, y), firm)
    canvas.rect(outer, stroke=LineStyle(ink=BLACK, width_mm=FIRM_MM))
    _names(canvas, (xs, ys), each, outer, k)
    return outer.bottom + air


def _names(
    canvas: PdfCanvas,
    edges: tuple[list[float], list[float]],
    drawn: tuple[int, int],
    outer: Rect,
    k: float,
) -> None:
    """Letters above and figures at the left, beyond the ticks, where they have room."""
    xs, ys = edges
    style = strong(7 * k, SANGUINE)
    high, beyond = pt_to_mm(style.size_pt), (_TICK_MM + 0.8) * k
    widest = canvas.width(column_name(len(xs) - 2), style)
    for column in range(0, len(xs) - 1, one_in(abs(xs[1] - xs[0]), widest + high / 2, of=drawn[0])):
        at = (xs[column] + xs[column + 1]) / 2, outer.top - beyond
        canvas.text(at, column_name(column), style, align="centre")
    for row in range(0, len(ys) - 1, one_in(ys[1] - ys[0], high * 1.2, of=drawn[1])):
        at = outer.left - beyond, (ys[row] + ys[row + 1]) / 2 + high * 0.36
        canvas.text(at, str(row + 1), style, align="right")


def _section(pack: PackContent, squares: SquareGrid) -> Section:
    spec, words = pack.spec, pack.words
    join = words("grid.join-dark" if spec.support.tone == "dark" else "grid.join")
    if spec.grid is not None and spec.grid.diagonals:
        join += f" {words('grid.diagonals')}"
    steps = (
        words("grid.measure-right" if spec.print.mirror else "grid.measure-left"),
        join,
        words(
            "grid.letter",
            factor=words.number(pack.plan.grid.enlargement, 2),
            page=pack.first_grid_page,
            square=pack.say.length(squares.side_mm),
        ),
        words("grid.draw"),
    )
    mirrored = (words("grid.mirror"),) if spec.print.mirror else ()
    return section(words("grid.rule"), (*mirrored, *steps))


def _steps_height(pack: PackContent, steps: Section, width: float) -> float:
    """What the steps take of the page."""
    size_pt = _STEP_PT * pack.scale
    unit = pt_to_mm(size_pt)
    broken = [len(lines(step.text, size_pt, width - unit * 1.9)) for step in steps.steps]
    return sum(broken) * unit * LEADING + len(broken) * unit * 0.42 + 3 * pack.scale


def _steps(canvas: PdfCanvas, pack: PackContent, steps: Section, room: Rect) -> float:
    """Returns where they end."""
    size_pt = _STEP_PT * pack.scale
    unit, y = pt_to_mm(size_pt), room.top
    indent = unit * 1.9
    for step in steps.steps:
        tick_box(canvas, (room.left, y), unit, ticked=True)
        for line in lines(step.text, size_pt, room.width - indent):
            draw_line(canvas, (room.left + indent, y + unit), line, size_pt)
            y += unit * LEADING
        y += unit * 0.42
    return y + 3 * pack.scale


def _cells(pack: PackContent, marks: tuple[Tick, ...], width: float) -> tuple[int, int]:
    """How many columns and rows the table of ticks has."""
    columns = max(int(width / ((_CELL_IN_MM if pack.say.inches else _CELL_MM) * pack.scale)), 1)
    return columns, -(-len(marks) // columns)


def _table_height(pack: PackContent, marks: tuple[Tick, ...], width: float) -> float:
    """What a table takes of the page."""
    return (8.6 + 1.4 + _ROW_MM * max(_cells(pack, marks, width)[1], 1)) * pack.scale


def _table(
    canvas: PdfCanvas,
    pack: PackContent,
    title: str,
    ticked: tuple[int, tuple[Tick, ...]],
    room: Rect,
) -> float:
    """The ticks of two opposite edges in columns; returns where they end.

    Args:
        canvas: Draws on the page.
        pack: What its pages are drawn from.
        title: Which edges.
        ticked: Which of the ticks are listed (one in so many), and the ticks.
        room: Where the table begins, and its width.
    """
    k, y = pack.scale, room.top
    each, marks = ticked
    columns, _ = _cells(pack, marks, room.width)
    if each > 1:
        title = pack.words("grid.one-in", title=title, each=each)
    canvas.line((room.left, y), (room.right, y), LineStyle(ink=BLACK, width_mm=HAIR_MM))
    canvas.text((room.left, y + 4 * k), title, kicker(5.8 * k, BLACK))
    y += 8.6 * k
    if not marks:
        canvas.text((room.left, y), pack.words("grid.no-tick"), body(7.6 * k))
    for number, (name, place) in enumerate(_tick_texts(marks, pack)):
        row, column = divmod(number, columns)
        at = room.left + column * room.width / columns, y + row * _ROW_MM * k
        wide = canvas.text(at, name, body(6.6 * k))
        canvas.text((at[0] + max(wide, 6.6 * k) + 1.4 * k, at[1]), place, strong(7.6 * k))
    return room.top + _table_height(pack, marks, room.width)


def _tick_texts(marks: tuple[Tick, ...], pack: PackContent) -> Iterator[tuple[str, str]]:
    say = pack.say
    for mark in marks:
        place = say.ruled(mark.place_mm)
        whole = pack.words.number(mark.place_mm)
        yield mark.name, f"{place} ({whole})" if say.inches else place
