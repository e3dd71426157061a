"""The grid over a picture: lines in two tones, and the name of each square.

A dark line with a light rim is visible on any tone; the grid is below the lines to trace, so
that its rims do not cut them. Lines are drawn in the coordinates of the whole picture, so that
they meet across seams. A name is in the corner of the part of its square that a page shows, so
that no name is cut. Where squares are too narrow for their names, each second, fifth or tenth
column and row is named, rather than only those with narrow letters.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from worker.layout.grid import SquareGrid, column_name, one_in
from worker.pdf.canvas import LineStyle, PdfCanvas, Point
from worker.pdf.palette import BLACK, PAPER, PENCIL, Ink, TextStyle, strong
from worker.pdf.text import width_pt
from worker.spec.plan import Rect
from worker.spec.spec import Grid, Tone
from worker.spec.strokes import line_widths_mm
from worker.units import pt_to_mm

#: Rim on each side of a line.
_RIM_MM = 0.14
#: Type of the names: so many points for a millimetre of the square, between these.
_PT_PER_MM, _SMALLEST_PT, _LARGEST_PT = 0.55, 3.6, 8.0
#: Between a name and the lines at its corner.
_INSET_MM = 0.55
_CAPITALS = 0.72

Line = tuple[Point, Point]


@dataclass(frozen=True, kw_only=True)
class GridStyle:
    """How a grid is drawn.

    Attributes:
        ink: The dark of its two tones.
        line_mm, diagonal_mm: Weights; no diagonals where 0.
    """

    ink: Ink
    line_mm: float
    diagonal_mm: float


@dataclass(frozen=True, kw_only=True)
class GridPlacement:
    """Which part of a picture is drawn, and where.

    Attributes:
        part_mm: The part of the picture that is seen.
        area: The same on the page.
        at: Converts a place of the picture, in mm, to one on the page.
        scale: Millimetres of the page for one of the picture.
        turned: Whether the picture's top is at the page's right.
    """

    part_mm: Rect
    area: Rect
    at: Callable[[Point], Point]
    scale: float = 1.0
    turned: bool = False


def style_of_grid(grid: Grid, tone: Tone) -> GridStyle:
    """Beside lines to trace the grid is paler than they are; diagonals are half as wide."""
    return GridStyle(
        ink=PENCIL if tone.lined else BLACK,
        line_mm=grid.line_mm,
        diagonal_mm=line_widths_mm(grid.line_mm)[0] if grid.diagonals else 0.0,
    )


def thin(grid_style: GridStyle, most_mm: float) -> GridStyle:
    """The same look with no line heavier than this."""
    diagonal_mm = min(grid_style.diagonal_mm, most_mm * 0.7)
    return replace(grid_style, line_mm=min(grid_style.line_mm, most_mm), diagonal_mm=diagonal_mm)


def draw_grid(
    canvas: PdfCanvas, squares: SquareGrid, grid_style: GridStyle, place: GridPlacement
) -> None:
    """All lines that cross a part of the picture; rims first, so that none lies on a line."""
    lines = [(line, grid_style.line_mm) for line in _lines(squares, place.part_mm)]
    if grid_style.diagonal_mm:
        diagonals = _diagonals(squares.side_mm, place.part_mm)
        lines = [*((line, grid_style.diagonal_mm) for line in diagonals), *lines]
    with canvas.clipped(place.area):
        for ink, more_mm in ((PAPER, 2 * _RIM_MM), (grid_style.ink, 0.0)):
            for (start, end), width_mm in lines:
                stroke = LineStyle(ink=ink, width_mm=width_mm + more_mm)
                canvas.line(place.at(start), place.at(end), stroke)


def draw_square_names(
    canvas: PdfCanvas, squares: SquareGrid, grid_style: GridStyle, place: GridPlacement
) -> None:
    """Names of squares in their corners, where what is seen of them has room."""
    style = strong(name_pt(squares.side_mm * place.scale), grid_style.ink)
    high = pt_to_mm(style.size_pt) * _CAPITALS / place.scale
    inset = (_INSET_MM + grid_style.line_mm / 2) / place.scale
    if high + 2 * inset > squares.side_mm:
        # No square has room, and a wall has hundreds of thousands of them.
        return
    widest = _widest_mm(squares.columns, squares.rows, style) / place.scale
    each, part = one_in(squares.side_mm, widest + 2 * inset), place.part_mm
    columns = _seen(squares.columns_mm, each, each, (part.left, part.right))
    rows = _seen(squares.rows_mm, each, 1, (part.top, part.bottom))
    named = []
    for row, top, room in rows:
        if high + 2 * inset > room:
            continue
        for column, left, across in columns:
            parts = column_name(column), str(row + 1)
            wide = sum(canvas.width(each, style) for each in parts) / place.scale
            if wide + 2 * inset <= across:
                foot = (left + inset + wide / 2, top + inset + high)
                named.append((place.at(foot), parts))
    canvas.halos(named, style, PAPER, turn_deg=-90.0 if place.turned else 0.0)


def name_pt(side_mm: float) -> float:
    """Size of type for names in squares of this side."""
    return min(max(side_mm * _PT_PER_MM, _SMALLEST_PT), _LARGEST_PT)


def _lines(squares: SquareGrid, part: Rect) -> Iterator[Line]:
    """Upright and lying lines inside the picture, from edge to edge of a part of it."""
    for x in squares.columns_mm[1:-1]:
        if part.left - 1 < x < part.right + 1:
            yield (x, part.top), (x, part.bottom)
    for y in squares.rows_mm[1:-1]:
        if part.top - 1 < y < part.bottom + 1:
            yield (part.left, y), (part.right, y)


def _diagonals(side_mm: float, part: Rect) -> Iterator[Line]:
    """Lines at 45 degrees through the corners of whole squares, beyond the part's edges.

    A narrower square at the right or the foot shows what it has of a whole one's.
    """
    for step in _multiples(part.left - part.bottom, part.right - part.top, side_mm):
        yield (step + part.top, part.top), (step + part.bottom, part.bottom)
    for step in _multiples(part.left + part.top, part.right + part.bottom, side_mm):
        yield (step - part.top, part.top), (step - part.bottom, part.bottom)


def _multiples(low: float, high: float, side_mm: float) -> Iterator[float]:
    for number in range(int(np.ceil(low / side_mm)), int(np.floor(high / side_mm)) + 1):
        yield number * side_mm


@lru_cache(maxsize=16)
def _widest_mm(columns: int, rows: int, style: TextStyle) -> float:
    """How wide the widest name of a grid is, its two parts taken apart."""
    names = map(column_name, range(columns)), (str(row + 1) for row in range(rows))
    return pt_to_mm(
        sum(max(width_pt(name, style.face, style.size_pt) for name in side) for side in names)
    )


def _seen(
    edges_mm: tuple[float, ...], each: int, reach: int, part: tuple[float, float]
) -> list[tuple[int, float, float]]:
    """Each so manieth column or row that meets a part of the picture.

    Args:
        edges_mm: Of all columns or rows.
        each: Which of them.
        reach: Over how many of them a name may go.
        part: Where the part begins and ends.

    Returns:
        Its number, where what is seen of it begins, and how much room a name has there.
    """
    last, (low, high) = len(edges_mm) - 1, part
    first = max(bisect_right(edges_mm, low) - 1, 0) // each * each
    seen = []
    for number in range(first, last, each):
        start = max(edges_mm[number], low)
        if start >= high:
            break
        if start < edges_mm[number + 1]:
            seen.append((number, start, min(edges_mm[min(number + reach, last)], high) - start))
    return seen
