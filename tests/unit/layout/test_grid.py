"""The grid: where lines run, what squares are called, which sides divide evenly."""

from __future__ import annotations

import numpy as np
import pytest

from tests.folded import fold
from worker.layout.grid import (
    GUTTER_MM,
    QUIET_MM,
    column_name,
    edges,
    one_in,
    small_reference,
    square_grid,
    suggested_sides,
)
from worker.layout.planning import plan_sheets
from worker.spec.formats import SHEET_FORMATS
from worker.spec.plan import Plan, Size
from worker.spec.spec import Grid, Margins, Sheet, Spec, Support
from worker.spec.study import DetailLevel, ReferenceStudy


def planned(spec: Spec) -> Plan:
    level = DetailLevel(density=np.zeros((40, 60), np.float32), pixel_size_px=25.0)
    thumb = np.full((64, 96), 128, np.uint8)
    study = ReferenceStudy(width_px=6000, height_px=4000, levels=(level,), thumb=thumb)
    return plan_sheets(spec, study)


@pytest.mark.parametrize(
    ("length", "side", "wanted"),
    [
        (200, 50, (0, 50, 100, 150, 200)),
        (210, 50, (0, 50, 100, 150, 200, 210)),
        (150, 50.0, (0, 50, 100, 150)),
        (40, 50, (0, 40)),
        # A rest of a few hundredths is no square of its own.
        (200.04, 50, (0, 50, 100, 150, 200.04)),
    ],
)
def test_edges_from_the_top_left(length: float, side: float, wanted: tuple[float, ...]) -> None:
    assert edges(length, side) == pytest.approx(wanted)


def test_edges_do_not_add_up_errors() -> None:
    """A tenth of an inch, a thousand times: each edge comes from the whole."""
    found = edges(2540.0, 2.54)
    assert len(found) == 1001
    assert found[999] == 999 * 2.54


def test_columns_have_small_letters_and_rows_numbers() -> None:
    names = {0: "a", 7: "h", 8: "j", 22: "z", 23: "aa", 22 + 23 * 23: "zz", 23 + 23 * 23: "aaa"}
    assert {column: column_name(column) for column in names} == names


def test_no_column_has_a_letter_that_passes_for_a_figure() -> None:
    """ISO 5457 uses neither I nor O; small, l is the one that is taken for a 1."""
    every = {column_name(column) for column in range(2000)}
    assert len(every) == 2000
    assert not set("ilo") & set("".join(every))


def test_of_many_each_second_fifth_or_tenth_is_shown() -> None:
    assert [one_in(5, needed) for needed in (0, 5, 5.1, 24, 30, 9000)] == [1, 1, 2, 5, 10, 500]
    # What is named is among what is drawn.
    assert [one_in(1, 4, of=drawn) for drawn in (1, 2, 5, 20)] == [5, 10, 5, 20]


@pytest.mark.parametrize(
    ("size", "wanted"),
    [
        ((600, 400), (50.0, 100.0)),
        ((400, 600), (50.0, 100.0)),
        ((500, 400), (50.0, 100.0)),
        ((300, 240), (30.0, 60.0)),
        ((3000, 2000), (250.0, 500.0)),
    ],
)
def test_suggested_sides_divide_evenly(size: tuple[float, float], wanted: tuple[float]) -> None:
    assert suggested_sides(Size(*size), inches=False) == wanted


def test_inches_are_suggested_where_people_use_inches() -> None:
    """22 × 30 in, the trade's imperial sheet, has two inches in common."""
    assert suggested_sides(Size(558.8, 762.0), inches=True) == pytest.approx((50.8,))


@pytest.mark.parametrize("size", [(594, 420), (420, 297), (603.2, 401.7), (558.8, 762.0)])
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_where_nothing_divides_evenly_last_squares_are_nearly_whole(
    size: tuple[float, float], unit: str
) -> None:
    found = suggested_sides(Size(*size), inches=unit == "in")
    assert found
    assert list(found) == sorted(found)
    for side in found:
        for length in size:
            last = length - edges(length, side)[-2]
            assert last >= 0.85 * side


@pytest.mark.parametrize("size", [(20, 20), (3000, 100), (10_000, 10_000), (25, 4000)])
def test_something_is_suggested_for_any_picture(size: tuple[float, float]) -> None:
    for side in suggested_sides(Size(*size), inches=False):
        assert 5.0 <= side <= min(size)


@fold(("name", SHEET_FORMATS), ("size", [(600, 400), (400, 600), (1200, 300), (90, 60)]))
def test_the_reference_in_small_fills_its_page(name: str, size: tuple[float, float]) -> None:
    sheet = Size(SHEET_FORMATS[name].width_mm, SHEET_FORMATS[name].height_mm)
    margin = Margins(top=4, right=18, bottom=12, left=25)
    small = small_reference(Size(*size), sheet, margin)
    assert small.sideways == (small.page.width_mm > small.page.height_mm)
    # The printer's margins as they lie on the page that is read.
    left, top, right, bottom = (
        (margin.top, margin.right, margin.bottom, margin.left)
        if small.sideways
        else (margin.left, margin.top, margin.right, margin.bottom)
    )
    assert small.area.left == max(left, QUIET_MM)
    assert small.area.top == max(top, QUIET_MM)
    assert small.area.right == small.page.width_mm - max(right, QUIET_MM)
    assert small.area.bottom == small.page.height_mm - max(bottom, QUIET_MM)
    picture = small.picture
    assert picture.width / picture.height == pytest.approx(size[0] / size[1])
    assert picture.left >= small.area.left + GUTTER_MM - 1e-9
    assert picture.right <= small.area.right - GUTTER_MM + 1e-9
    assert picture.bottom <= small.area.bottom
    assert picture.width <= size[0] + 1e-9


def test_the_plan_tells_the_grid() -> None:
    spec = Spec(support=Support(width_mm=620, height_mm=420, border_mm=10), grid=Grid(square_mm=70))
    grid = planned(spec).grid
    assert (grid.square_mm, grid.columns, grid.rows) == (70, 9, 6)
    assert grid.suggested_mm == (50.0, 100.0)
    # On its side 210 mm are high: less two quiet edges, head, gutter and foot.
    assert grid.enlargement == pytest.approx(400 / (210 - 2 * 10 - 22 - 6 - 8))


def test_without_a_grid_the_plan_tells_what_could_be() -> None:
    plan = planned(Spec(support=Support(width_mm=600, height_mm=400)))
    assert (plan.grid.square_mm, plan.grid.columns, plan.grid.rows) == (None, None, None)
    assert plan.grid.suggested_mm == (50.0, 100.0)
    assert (plan.first_sheet_page, plan.page_count) == (4, 3 + plan.sheet_count)


def test_with_a_grid_two_pages_lie_before_the_sheets() -> None:
    plan = planned(
        Spec(
            support=Support(width_mm=600, height_mm=400),
            grid=Grid(square_mm=50),
            sheet=Sheet(format="na_letter_8.5x11in"),
        )
    )
    assert (plan.first_sheet_page, plan.page_count) == (6, 5 + plan.sheet_count)
    assert [piece.page for piece in plan.pieces] == list(range(6, 6 + plan.sheet_count))


def test_squares_have_the_pictures_edges() -> None:
    squares = square_grid(Size(600, 410), 50)
    assert (squares.columns, squares.rows) == (12, 9)
    assert squares.columns_mm[-1] == 600
    assert squares.rows_mm[-2:] == (400, 410)
