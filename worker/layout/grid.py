"""The grid: its lines, the names of its squares, and the small gridded reference.

For drawing by eye the same squares are ruled over the reference and over the support, and the
picture is copied square by square. Columns have letters and rows have numbers, as on maps.
Letters are lower case, because capitals name the sheets; i, l and o, which are mistaken for
figures, are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np
import numpy.typing as npt

from worker.spec.formats import sheet_format
from worker.spec.plan import PlanGrid, Rect, Size
from worker.spec.spec import Margins, Spec
from worker.units import MM_PER_INCH

#: A rest narrower than this is what a ruled line takes; it makes no square of its own, and a
#: side that leaves no more divides evenly.
NO_SQUARE_MM = 0.25
#: Squares along the longer side that are suggested first, and finer ones where none of
#: those divides evenly.
_FEWEST, _MOST, _MOST_OF_ALL = 4, 12, 24
#: Where no side divides evenly, the last row and column are at least so much of a square.
_NEARLY_WHOLE = 0.9
_MOST_SUGGESTED, _NEARLY_SUGGESTED = 5, 3
#: Sides that a ruler shows: whole millimetres, or eighths of an inch.
_STEP_MM, _STEP_IN_MM = 1.0, MM_PER_INCH / 8
_SMALLEST_MM = 5.0
#: Of many lines or names, only one in so many is shown.
_ONE_IN = (1, 2, 5, 10, 20, 50, 100, 200, 500)
#: Around the reduced picture: quiet edges, a head for words, a gutter for letters and
#: figures, and a foot.
QUIET_MM, HEAD_MM, GUTTER_MM, FOOT_MM = 10.0, 22.0, 6.0, 8.0

#: Not used for columns. ISO 5457 leaves I and O out of the grid of a drawing sheet; of small
#: letters it is l that is taken for a 1, and "l1" for eleven.
LEFT_OUT = "ilo"
_LETTERS = "".join(letter for letter in ascii_lowercase if letter not in LEFT_OUT)

_Sides = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class SquareGrid:
    """The lines of a grid, in millimetres from the picture's top left.

    Attributes:
        side_mm: Side of a whole square.
        columns_mm, rows_mm: Edges of the columns and of the rows, those of the picture
            among them; the last column and row may be narrower than the others.
    """

    side_mm: float
    columns_mm: tuple[float, ...]
    rows_mm: tuple[float, ...]

    @property
    def columns(self) -> int:
        """How many columns there are."""
        return len(self.columns_mm) - 1

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return len(self.rows_mm) - 1


@dataclass(frozen=True, kw_only=True)
class SmallReference:
    """The place of the small gridded reference on its page.

    Attributes:
        sideways: The page is read turned: its left edge is then at the top.
        page: Size of the page as it is read.
        area: The page less printer's margins and quiet edges, as it is read.
        picture: The picture, as it is read.
    """

    sideways: bool
    page: Size
    area: Rect
    picture: Rect


def square_grid(picture: Size, side_mm: float) -> SquareGrid:
    """The grid of this side over a picture."""
    return SquareGrid(
        side_mm=side_mm,
        columns_mm=edges(picture.width_mm, side_mm),
        rows_mm=edges(picture.height_mm, side_mm),
    )


def edges(length_mm: float, side_mm: float) -> tuple[float, ...]:
    """Where squares begin and end along a length; each from the whole, not by adding up."""
    count = max(int(np.ceil((length_mm - NO_SQUARE_MM) / side_mm)), 1)
    return (*(number * side_mm for number in range(count)), length_mm)


def column_name(column: int) -> str:
    """Letters from a to z, then aa, ab and so on; small letters, so that c4 is no sheet.

    There is no i, l or o (`LEFT_OUT`).
    """
    more, last = divmod(column, len(_LETTERS))
    return (column_name(more - 1) if more else "") + _LETTERS[last]


def one_in(step_mm: float, needed_mm: float, *, of: int = 1) -> int:
    """Which of many are shown, so that they do not touch: each one, each second ...

    Args:
        step_mm: From one to the next.
        needed_mm: What one of them takes.
        of: Only each of so many is there to be shown.
    """
    each = [number for number in _ONE_IN if number % of == 0]
    return next((number for number in each if number * step_mm >= needed_mm), each[-1])


def plan_grid(spec: Spec, picture: Size, sheet: Size) -> PlanGrid:
    """The plan's grid: the one in the spec, if any, and sides that are suggested."""
    small = small_reference(picture, sheet, spec.sheet.margin_mm)
    inches = sheet_format(spec.sheet.format).inches
    asked = square_grid(picture, spec.grid.square_mm) if spec.grid else None
    return PlanGrid(
        square_mm=asked.side_mm if asked else None,
        columns=asked.columns if asked else None,
        rows=asked.rows if asked else None,
        enlargement=picture.width_mm / small.picture.width,
        suggested_mm=suggested_sides(picture, inches=inches),
    )


def small_reference(picture: Size, sheet: Size, margin: Margins) -> SmallReference:
    """The picture as large as one page shows it with letters and figures, on its side or not.

    It is never drawn larger than it will be.
    """
    ways = [_small(picture, sheet, margin, sideways=sideways) for sideways in (False, True)]
    return max(ways, key=lambda way: way.picture.width)


def _small(picture: Size, sheet: Size, margin: Margins, *, sideways: bool) -> SmallReference:
    """The small reference, upright or sideways; sideways, its top is at the page's right."""
    page = Size(sheet.height_mm, sheet.width_mm) if sideways else sheet
    top, right, bottom, left = (
        (margin.right, margin.bottom, margin.left, margin.top)
        if sideways
        else (margin.top, margin.right, margin.bottom, margin.left)
    )
    left, top, right, bottom = (max(each, QUIET_MM) for each in (left, top, right, bottom))
    area = Rect(left, top, page.width_mm - left - right, page.height_mm - top - bottom)
    width, height = area.width - 2 * GUTTER_MM, area.height - HEAD_MM - GUTTER_MM - FOOT_MM
    scale = min(width / picture.width_mm, height / picture.height_mm, 1.0)
    across, down = picture.width_mm * scale, picture.height_mm * scale
    beside = area.left + (area.width - across) / 2
    rect = Rect(beside, area.top + HEAD_MM + GUTTER_MM, across, down)
    return SmallReference(sideways=sideways, page=page, area=area, picture=rect)


def suggested_sides(picture: Size, *, inches: bool) -> tuple[float, ...]:
    """Sides of squares that divide the picture evenly, from fine to coarse.

    Four to twelve squares along the longer side are what the eye copies well (common
    practice). Sizes of the A series, whose sides are as 1 to the root of 2, and sizes as
    measured seldom divide evenly; then sides are suggested whose last row and column are
    nearly whole squares.

    A picture too small for any such square gets no suggestion.

    Args:
        picture: What is divided.
        inches: Sides in eighths of an inch rather than whole millimetres.
    """
    long, short = (
        max(picture.width_mm, picture.height_mm),
        min(picture.width_mm, picture.height_mm),
    )
    step = _STEP_IN_MM if inches else _STEP_MM
    for most in (_MOST, _MOST_OF_ALL):
        sides = _sides(long, short, step, most)
        even = sides[_left_over(long, sides) + _left_over(short, sides) == 0]
        if even.size:
            return _sorted_sides(even[-_MOST_SUGGESTED:])
    sides = _sides(long, short, step, _MOST)
    if not sides.size:
        return ()
    lacking = np.maximum(_left_over(long, sides), _left_over(short, sides))
    nearly = np.flatnonzero(lacking <= max(1 - _NEARLY_WHOLE, lacking.min()))
    best = nearly[np.argsort(lacking[nearly], kind="stable")]
    return _sorted_sides(_unlike(long, sides[best]))


def _sides(long_mm: float, short_mm: float, step_mm: float, most: int) -> _Sides:
    """Sides that a ruler shows, no longer than the picture is narrow."""
    high = min(long_mm / _FEWEST, short_mm)
    low = max(min(long_mm / most, high / 2), _SMALLEST_MM)
    numbers = np.arange(np.ceil(low / step_mm - 1e-9), np.floor(high / step_mm + 1e-9) + 1)
    return np.asarray(numbers * step_mm)


def _left_over(length_mm: float, sides: _Sides) -> _Sides:
    """How much the last square lacks, in squares; 0 where it lacks nothing."""
    last = length_mm / sides
    lacking_mm = (np.ceil(last - NO_SQUARE_MM / sides) - last) * sides
    return np.where(lacking_mm <= NO_SQUARE_MM, 0.0, lacking_mm / sides)


def _unlike(long_mm: float, sides: _Sides) -> _Sides:
    """The best side for each number of squares, few of them."""
    _, first = np.unique(np.ceil(long_mm / sides), return_index=True)
    return sides[np.sort(first)][:_NEARLY_SUGGESTED]


def _sorted_sides(sides: _Sides) -> tuple[float, ...]:
    return tuple(float(side) for side in np.sort(sides))
