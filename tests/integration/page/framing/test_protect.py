"""Protected areas: drawn by a finger, kept free by the plan, taken away by a tap."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Response, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, open_tool

WORDS = Words()
AXES = (("x", "left", "width"), ("y", "top", "height"))


def answers_seams(areas: int = 0, **wanted: str) -> Callable[[Response], bool]:
    """Whether an answer is the plan of these seams."""

    def is_it(answer: Response) -> bool:
        if not answer.url.endswith("/v1/plans"):
            return False
        seams = answer.request.post_data_json["spec"]["seams"]
        return len(seams["protect"]) == areas and wanted.items() <= seams.items()

    return is_it


def drawn_area(phone: Phone, left: float, top: float, right: float, bottom: float) -> Any:
    """Draw an area with the finger, in shares of the picture; gives the plan that follows."""
    page = phone.page
    open_tool(page, "protect")
    expect(page.get_by_text(WORDS("sheets.protect.drag"))).to_be_visible()
    box = page.locator(".plan-board").bounding_box()
    assert box is not None
    from_x, from_y = box["x"] + left * box["width"], box["y"] + top * box["height"]
    to_x, to_y = box["x"] + right * box["width"], box["y"] + bottom * box["height"]
    with page.expect_response(answers_seams(areas=1)) as planned:
        page.mouse.move(from_x, from_y)
        page.mouse.down()
        page.mouse.move((from_x + to_x) / 2, (from_y + to_y) / 2, steps=4)
        page.mouse.move(to_x, to_y, steps=4)
        page.mouse.up()
    return planned.value.json()


def crossed(plan: Any, area: dict[str, float]) -> list[Any]:
    """Seams of the plan that run through an area given in millimetres."""
    return [
        seam
        for seam in plan["seams"]
        if max(seam["from_mm"][0], seam["to_mm"][0]) > area["left"]
        and min(seam["from_mm"][0], seam["to_mm"][0]) < area["left"] + area["width"]
        and max(seam["from_mm"][1], seam["to_mm"][1]) > area["top"]
        and min(seam["from_mm"][1], seam["to_mm"][1]) < area["top"] + area["height"]
    ]


def test_no_seam_crosses_what_was_drawn(sheets: Phone) -> None:
    """Where seams ran before, there are none any more: in the plan and in what is shown."""
    plan = drawn_area(sheets, 0.28, 0.38, 0.42, 0.62)
    (area,) = plan["protected_mm"]
    assert area["left"] == pytest.approx(0.28 * 600, abs=4)
    assert area["width"] == pytest.approx(0.14 * 600, abs=6)
    assert crossed(plan, area) == []
    page = sheets.page
    shown = page.locator(".plan path.seam").get_attribute("d")
    assert shown
    box = page.locator(".area .area-line").bounding_box()
    board = page.locator(".plan-board").bounding_box()
    assert box is not None
    assert board is not None
    # The same from the drawing on the screen: the strokes of the path, in its own pixels.
    strokes = [
        [tuple(map(float, place.split())) for place in stroke.split("L")]
        for stroke in shown.split("M")[1:]
    ]
    left, top = box["x"] - board["x"], box["y"] - board["y"]
    for (x1, y1), (x2, y2) in strokes:
        beside = max(x1, x2) <= left + 2 or min(x1, x2) >= left + box["width"] - 2
        above = max(y1, y2) <= top + 2 or min(y1, y2) >= top + box["height"] - 2
        assert beside or above


def test_what_is_small_is_drawn_on_the_enlarged_picture(sheets: Phone) -> None:
    """Five pixels of the whole picture are too small for a drag, and 20 of the enlarged one not."""
    page = sheets.page
    for _ in range(3):
        page.get_by_role("button", name=WORDS("view.more")).click()
    board = page.locator(".plan-board").bounding_box()
    assert board is not None
    side = 20 / board["width"]
    (area,) = drawn_area(sheets, 0.5, 0.5, 0.5 + side, 0.5 + side)["protected_mm"]
    assert area["width"] == pytest.approx(side * 600, abs=6)


def test_what_is_enlarged_is_tapped_where_it_is(sheets: Phone) -> None:
    """A small area has a fingertip's target (44 px, WCAG 2.2, 2.5.5) however large the picture."""
    page = sheets.page
    open_tool(page, "protect")
    page.get_by_role("button", name=WORDS("sheets.protect.middle")).click()
    area = page.locator("g.area")
    for _ in range(18):
        area.press("Shift+ArrowLeft")
        area.press("Shift+ArrowUp")
    for _ in range(3):
        page.get_by_role("button", name=WORDS("view.more")).click()
    for part, side in ((".area-target", 44), (".area-number", 16)):
        page.wait_for_function(
            """([part, side]) => {
              const [one, area] = [part, ".area-line"].map((name) =>
                document.querySelector(name).getBoundingClientRect().height);
              return one <= Math.max(side, area) + 1;
            }""",
            arg=[part, side],
        )
    box = page.locator(".area-target").bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 43.5


def test_staggered_seams_are_offered_where_they_spare_it(sheets: Phone) -> None:
    """240 × 160 mm in the middle: no seams that run through spare it, others do."""
    page = sheets.page
    plan = drawn_area(sheets, 0.2, 0.3, 0.6, 0.7)
    assert "protected-area-crossed" in {one["code"] for one in plan["warnings"]}
    expect(page.locator(".outcome-word")).to_have_class("outcome-word wrong")
    page.locator(".outcome-sum summary").click()
    with page.expect_response(answers_seams(areas=1, arrangement="staggered")) as planned:
        page.get_by_role("button", name=WORDS("sheets.stagger")).click()
    plan = planned.value.json()
    assert crossed(plan, plan["protected_mm"][0]) == []
    expect(page.locator(".outcome-word.wrong, .notice.bad")).to_have_count(0)
    open_tool(page, "seams")
    expect(page.get_by_label(WORDS("sheets.staggered"))).to_be_checked()


def test_no_label_lies_over_the_middle_of_its_piece(sheets: Phone) -> None:
    """There is mostly what is drawn: a face, on a portrait."""
    page = sheets.page
    open_tool(page, "seams")
    with page.expect_response(answers_seams(placement="even")) as planned:
        page.get_by_label(WORDS("sheets.even")).check(force=True)
    plan = planned.value.json()
    page.wait_for_timeout(200)
    board = page.locator(".plan-board").bounding_box()
    assert board is not None
    scale = board["width"] / plan["picture"]["width_mm"]
    labels = page.locator(".plan-board .label")
    assert labels.count() == plan["sheet_count"]
    for piece, label in zip(plan["pieces"], labels.all(), strict=True):
        assert label.text_content() == piece["label"]
        box, rect = label.locator("rect").bounding_box(), piece["picture_rect_mm"]
        assert box is not None
        middle = [
            board[axis] + (rect[side] + rect[length] / 2) * scale for axis, side, length in AXES
        ]
        end = [board[axis] + (rect[side] + rect[length]) * scale for axis, side, length in AXES]
        assert box["x"] > middle[0] or box["y"] > middle[1]
        assert box["x"] + box["width"] <= end[0]
        assert box["y"] + box["height"] <= end[1]


def test_a_tap_takes_it_away_and_one_more_brings_it_back(sheets: Phone) -> None:
    page = sheets.page
    open_tool(page, "protect")
    page.get_by_role("button", name=WORDS("sheets.protect.middle")).click()
    area = page.locator("g.area")
    area.wait_for()
    assert sheets.state()["sheets"]["protect"] == [
        {"left": 0.4, "top": 0.4, "width": 0.2, "height": 0.2}
    ]
    undo = page.get_by_role("button", name=WORDS("sheets.protect.undo", number=1))
    # While the finger draws, and with the panel closed, which opens for the way back.
    for drawing in (True, False):
        if not drawing:
            page.locator('.tool[data-tool="protect"]').click()
        box = area.bounding_box()
        assert box is not None
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        expect(area).to_have_count(0)
        expect(undo).to_be_focused()
        undo.click()
        expect(area).to_have_count(1)


def test_an_area_is_moved_and_sized_by_keys(sheets: Phone) -> None:
    page = sheets.page
    open_tool(page, "protect")
    page.get_by_role("button", name=WORDS("sheets.protect.middle")).press("Enter")
    area = page.locator("g.area")
    area.focus()
    for key in ("ArrowLeft", "ArrowLeft", "ArrowDown", "Shift+ArrowRight"):
        page.keyboard.press(key)
    (kept,) = sheets.state()["sheets"]["protect"]
    assert (kept["left"], kept["top"]) == pytest.approx((0.38, 0.41))
    assert (kept["width"], kept["height"]) == pytest.approx((0.21, 0.2))


def test_choices_tell_what_they_cost_before_they_are_made(sheets: Phone) -> None:
    page = sheets.page
    open_tool(page, "seams")
    costs = page.locator(".seam-choices .cost")
    page.wait_for_function(
        "() => [...document.querySelectorAll('.seam-choices .cost')]"
        ".every((cost) => /\\d/.test(cost.textContent))"
    )
    assert costs.count() == 6
    assert page.locator(".seam-choices .plan-drawing .drawing-seams").count() == 6
    even = page.get_by_label(WORDS("sheets.even"))
    with page.expect_response(answers_seams(placement="even", arrangement="aligned")) as planned:
        even.check(force=True)
    plan = planned.value.json()
    assert plan["seam_line_mm"]["chosen"] == pytest.approx(plan["seam_line_mm"]["even"])
