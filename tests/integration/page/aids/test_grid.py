"""The grid over the picture: where the plan has it, as large as it is said, on any photo."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Response, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, open_tool, tab_to
from worker.layout.grid import square_grid
from worker.spec.plan import Size

WORDS = Words()
#: A line's two ends, as the overlay writes them.
LINE = re.compile(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)")
HALF_PX = 0.5


def planned_with(**wanted: Any) -> Callable[[Response], bool]:
    """Whether an answer is the plan of a grid that is so."""

    def is_it(answer: Response) -> bool:
        if not answer.url.endswith("/v1/plans"):
            return False
        grid = answer.request.post_data_json["spec"]["grid"]
        return grid is not None and wanted.items() <= grid.items()

    return is_it


def show_grid(phone: Phone) -> Any:
    """Tick the grid by keys; gives the plan that follows."""
    page = phone.page
    open_tool(page, "more")
    tab_to(page, page.get_by_label(WORDS("squares.show")))
    with page.expect_response(planned_with()) as planned:
        page.keyboard.press("Space")
    page.locator(".grid-line").wait_for(state="attached")
    return planned.value.json()


def lines(phone: Phone) -> list[tuple[float, ...]]:
    """The lines that are drawn, in px."""
    d = phone.page.locator(".grid-line").get_attribute("d") or ""
    return [tuple(float(number) for number in one) for one in LINE.findall(d)]


def width_px(phone: Phone) -> float:
    """How wide the picture stands on the screen."""
    box = phone.page.locator(".plan-board").bounding_box()
    assert box is not None
    return float(box["width"])


def test_lines_lie_where_the_plan_has_them(sheets: Phone) -> None:
    plan = show_grid(sheets)
    side_mm = plan["grid"]["square_mm"]
    assert side_mm in plan["grid"]["suggested_mm"]
    scale = width_px(sheets) / plan["picture"]["width_mm"]
    right = square_grid(Size(plan["picture"]["width_mm"], plan["picture"]["height_mm"]), side_mm)
    assert (right.columns, right.rows) == (plan["grid"]["columns"], plan["grid"]["rows"])
    drawn = lines(sheets)
    upright = sorted(x1 for x1, _, x2, _ in drawn if x1 == x2)
    lying = sorted(y1 for _, y1, _, y2 in drawn if y1 == y2)
    assert upright == pytest.approx([x * scale for x in right.columns_mm], abs=HALF_PX)
    assert lying == pytest.approx([y * scale for y in right.rows_mm], abs=HALF_PX)


def test_columns_have_letters_and_rows_have_numbers(sheets: Phone) -> None:
    plan = show_grid(sheets)
    names = sheets.page.locator(".grid-names text").all_text_contents()
    columns, rows = plan["grid"]["columns"], plan["grid"]["rows"]
    letters = list("abcdefghjkmnpqrstuvwxyz"[:columns])
    assert names == [*letters, *(str(number + 1) for number in range(rows))]


def test_squares_are_chosen_or_measured(sheets: Phone) -> None:
    page = sheets.page
    plan = show_grid(sheets)
    smallest = plan["grid"]["suggested_mm"][0]
    chip = page.locator(".chips .chip").first
    with page.expect_response(planned_with(square_mm=smallest)) as planned:
        chip.tap()
    assert planned.value.json()["grid"]["square_mm"] == smallest
    assert chip.get_attribute("aria-pressed") == "true"
    side = page.get_by_label(WORDS("squares.square"), exact=True)
    with page.expect_response(planned_with(square_mm=75)) as planned:
        side.fill("7,5")
        side.press("Enter")
    grid = planned.value.json()["grid"]
    # 60 × 40 cm in squares of 7.5 cm: eight across, and five with a third of another down.
    assert (grid["square_mm"], grid["columns"], grid["rows"]) == (75, 8, 6)
    assert page.locator(".chips .chip[aria-pressed=true]").count() == 0
    told = page.locator(".grid-sum").text_content() or ""
    assert "8" in told
    assert f"{grid['enlargement']:.2f}".rstrip("0").rstrip(".") in told
    drawn = lines(sheets)
    bottom = max(y2 for *_, y2 in drawn)
    assert bottom == pytest.approx(width_px(sheets) / 1.5, abs=HALF_PX)


def test_diagonals_go_through_every_square(sheets: Phone) -> None:
    page = sheets.page
    plan = show_grid(sheets)
    with page.expect_response(planned_with(diagonals=True)):
        page.get_by_label(WORDS("squares.diagonals")).check()
    expect(page.locator(".grid-line")).to_have_attribute("d", re.compile(".{400,}"))
    slanted = [one for one in lines(sheets) if one[0] != one[2] and one[1] != one[3]]
    # All at 45°, and one for each diagonal of the grid: columns + rows - 1 each way.
    assert all(abs(abs(x2 - x1) - abs(y2 - y1)) < HALF_PX for x1, y1, x2, y2 in slanted)
    columns, rows = plan["grid"]["columns"], plan["grid"]["rows"]
    assert len(slanted) == 2 * (columns + rows - 1)


def test_it_lies_over_photo_and_print_alike(sheets: Phone) -> None:
    page = sheets.page
    show_grid(sheets)
    page.get_by_label(WORDS("aids.view-both"), exact=True).check(force=True)
    expect(page.locator(".grid-line")).to_have_count(2)
    first, second = (
        re.findall(r"[\d.]+", page.locator(".grid-line").nth(number).get_attribute("d") or "")
        for number in range(2)
    )
    assert [float(one) for one in first] == pytest.approx([float(one) for one in second], abs=1)
