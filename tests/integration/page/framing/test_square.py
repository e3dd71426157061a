"""Squaring up: four corners by keys alone, by finger and by figures, and back again."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import requests
from PIL import Image
from playwright.sync_api import Page
from skimage import data, transform

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, heading, open_tool, tab_to

WORDS = Words()
#: A page of 4 : 3 photographed at a slant: its corners in percent of the photo.
CORNERS = ((14, 12), (86, 18), (82, 84), (9, 90))
NAMES = ("top-left", "top-right", "bottom-right", "bottom-left")
FIRST = ((10, 10), (90, 10), (90, 90), (10, 90))
PHOTO_PX = (800, 640)
PAGE_PX = (640, 480)


def page_picture() -> np.ndarray[Any, Any]:
    """What was on the page: the astronaut that ships with scikit-image (NASA)."""
    return np.asarray(transform.resize(data.astronaut(), (PAGE_PX[1], PAGE_PX[0])))


@pytest.fixture
def slanted(tmp_path: Path) -> Path:
    """The page on a table, as OpenCV's perspective transform sees it."""
    width, height = PAGE_PX
    flat = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    seen = np.array(CORNERS, np.float32) / 100 * np.array(PHOTO_PX, np.float32)
    to_photo = cv2.getPerspectiveTransform(flat, seen)
    table = (0.45, 0.45, 0.45)
    photo = cv2.warpPerspective(page_picture(), to_photo, PHOTO_PX, borderValue=table)
    path = tmp_path / "slanted.jpg"
    Image.fromarray(np.uint8(photo * 255)).save(path, "JPEG", quality=95)
    return path


@pytest.fixture
def squaring(phone: Phone, slanted: Path) -> Phone:
    """A phone at the four corners."""
    choose_photo(phone.open(), slanted, WORDS)
    page = phone.open("square")
    heading(page, WORDS("square.title")).wait_for()
    page.locator(".square-photo").evaluate("(image) => image.decode()")
    return phone


def squared_by(page: Page, act: Callable[[], None]) -> Any:
    """What the service answers when the button is pressed."""
    with page.expect_response(lambda answer: answer.url.endswith("/squared")) as made:
        act()
    assert made.value.status == 201, made.value.text()
    heading(page, WORDS("frame.title")).wait_for()
    return made.value.json()


def handle(page: Page, name: str) -> Any:
    """The handle of a corner."""
    return page.locator(".corner-handle").nth(NAMES.index(name))


def test_a_slanted_page_is_squared_up_by_keys_alone(phone: Phone, slanted: Path) -> None:
    choose_photo(phone.open(), slanted, WORDS)
    page, keys = phone.open("frame"), phone.page.keyboard
    tab_to(page, page.locator('.tool[data-tool="square"]'))
    keys.press("Enter")
    tab_to(page, page.get_by_role("link", name=WORDS("square.begin")))
    keys.press("Enter")
    heading(page, WORDS("square.title")).wait_for()
    for name, (left, top), (from_left, from_top) in zip(NAMES, CORNERS, FIRST, strict=True):
        tab_to(page, handle(page, name))
        assert page.locator(".square-lens").is_visible()
        for key, steps in (("Right", left - from_left), ("Down", top - from_top)):
            arrow = {"Right": "ArrowLeft", "Down": "ArrowUp"}[key] if steps < 0 else f"Arrow{key}"
            for _ in range(abs(steps)):
                keys.press(arrow)
    name = handle(page, "bottom-left").get_attribute("aria-label")
    corner = WORDS("square.bottom-left")
    assert name == WORDS("square.corner", corner=corner, left=CORNERS[3][0], top=CORNERS[3][1])
    tab_to(page, page.get_by_role("button", name=WORDS("square.go")))
    told = (page.locator(".square-says").text_content() or "").split()
    wide, high = (float(word) for word in told if word.replace(".", "").isdigit())
    made = squared_by(page, lambda: keys.press("Enter"))
    assert made["width_px"] / made["height_px"] == pytest.approx(wide / high, rel=0.01)
    found = requests.get(phone.service.url + made["links"]["preview"], timeout=30).content
    with Image.open(io.BytesIO(found)) as preview:
        seen = np.asarray(preview.convert("RGB").resize(PAGE_PX)) / 255
    # Whatever proportion these corners speak for, every place of the page is where it was.
    assert np.abs(seen - page_picture()).mean() < 0.03
    photo = phone.state()["photo"]
    assert photo["referenceId"] == made["id"]
    assert photo["original"]["referenceId"] == made["squared_from"]


def test_the_photo_as_taken_is_a_tap_away(squaring: Phone) -> None:
    page = squaring.page
    made = squared_by(page, page.get_by_role("button", name=WORDS("square.go")).tap)
    before = made["squared_from"]
    open_tool(page, "square")
    # The frame's own plan may be on its way still: only one of the photo as taken counts.
    with page.expect_request(
        lambda asked: (
            asked.url.endswith("/v1/plans") and asked.post_data_json["reference_id"] == before
        )
    ):
        page.get_by_role("button", name=WORDS("square.back")).tap()
    assert before in (page.locator(".finder-photo").get_attribute("src") or "")
    # What was squared up is still there, and its corners are where they were put.
    assert requests.get(squaring.service.url + made["links"]["self"], timeout=30).ok
    page.get_by_role("link", name=WORDS("square.begin")).tap()
    heading(page, WORDS("square.title")).wait_for()


def test_a_corner_follows_the_finger_and_is_seen_enlarged(squaring: Phone) -> None:
    page = squaring.page
    box = handle(page, "top-left").bounding_box()
    photo = page.locator(".square-photo").bounding_box()
    assert box is not None
    assert photo is not None
    assert min(box["width"], box["height"]) >= 44
    # Taken beside its middle, it does not jump under the finger.
    start = (box["x"] + 30, box["y"] + 14)
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(start[0] + 20, start[1] + 12, steps=4)
    page.locator(".square-lens").wait_for()
    page.mouse.up()
    # It would lie over the corner that comes next; the keys bring it back.
    page.locator(".square-lens").wait_for(state="hidden")
    open_tool(page, "figures")
    left = page.get_by_label(WORDS("square.from-left"), exact=True).first
    right = 10 + 20 / photo["width"] * 100
    assert float(left.input_value()) == pytest.approx(right, abs=0.15)


def test_corners_in_figures_and_a_measured_proportion(squaring: Phone) -> None:
    page = squaring.page
    open_tool(page, "figures")
    for label, axis in (("from-left", 0), ("from-top", 1)):
        fields = page.get_by_label(WORDS(f"square.{label}"), exact=True)
        for number, corner in enumerate(CORNERS):
            fields.nth(number).fill(str(corner[axis]))
            fields.nth(number).press("Enter")
    open_tool(page, "shape")
    page.get_by_text(WORDS("square.measured"), exact=True).tap()
    page.get_by_label(WORDS("square.size")).fill("20 x 15")
    told = page.get_by_role("main").get_by_text(WORDS("square.says", wide="1.33", high="1"))
    told.wait_for()
    made = squared_by(page, page.get_by_role("button", name=WORDS("square.go")).tap)
    assert made["width_px"] / made["height_px"] == pytest.approx(4 / 3, rel=0.01)


def test_corners_that_make_no_picture_are_told_at_once(squaring: Phone) -> None:
    page = squaring.page
    open_tool(page, "figures")
    field = page.get_by_label(WORDS("square.from-left"), exact=True).first
    field.fill("90")
    field.press("Enter")
    field = page.get_by_label(WORDS("square.from-top"), exact=True).first
    field.fill("50")
    field.press("Enter")
    page.locator(".square-says.wrong").wait_for()
    go = page.get_by_role("button", name=WORDS("square.go"))
    assert go.get_attribute("aria-disabled") == "true"


def test_deleting_the_photo_deletes_what_was_squared_up_from_it(squaring: Phone) -> None:
    page = squaring.page
    made = squared_by(page, page.get_by_role("button", name=WORDS("square.go")).tap)
    squaring.open("photo")
    with page.expect_response(lambda answer: answer.request.method == "DELETE") as gone:
        page.get_by_role("button", name=WORDS("photo.forget")).tap()
    assert gone.value.url.endswith(made["squared_from"])
    for name in ("id", "squared_from"):
        there = requests.get(f"{squaring.service.url}/v1/references/{made[name]}", timeout=30)
        assert there.status_code == 404
