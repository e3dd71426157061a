"""The loupe: a place of the picture at print scale, by touch and by keyboard."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import requests
from PIL import Image
from playwright.sync_api import Page, Response

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, tab_to

WORDS = Words()
#: CSS pixels of a millimetre (CSS Values and Units 4, 6.2), and what the phone has for each.
PX_PER_MM, DENSITY = 96 / 25.4, 2
#: How a move is timed: from the finger's event to the frame that shows it.
MOVE_MS = """async () => {
  const glass = document.querySelector(".loupe-glass");
  const { x, y, width, height } = glass.getBoundingClientRect();
  const at = { pointerId: 1, button: 0, bubbles: true };
  glass.setPointerCapture = () => {};
  const send = (type, by) => glass.dispatchEvent(
    new PointerEvent(type, { ...at, clientX: x + width / 2 + by, clientY: y + height / 2 }));
  send("pointerdown", 0);
  const took = [];
  for (let by = 3; by <= 60; by += 3) {
    const began = performance.now();
    send("pointermove", by);
    await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
    took.push(performance.now() - began);
  }
  send("pointerup", 60);
  return took.sort((a, b) => a - b)[took.length >> 1];
}"""
Pixels = npt.NDArray[np.uint8]


def is_close_up(answer: Response) -> bool:
    return answer.url.endswith("/v1/previews") and "part_mm" in answer.request.post_data_json


def painted(page: Page) -> Pixels:
    """What the glass shows, in grey."""
    data = page.locator(".loupe-canvas").evaluate("(canvas) => canvas.toDataURL()")
    return in_grey(base64.b64decode(data.partition(",")[2]))


def in_grey(png: bytes) -> Pixels:
    return np.asarray(Image.open(io.BytesIO(png), formats=["PNG"]).convert("L"))


def rest(page: Page) -> None:
    """Wait for the sharp close-up."""
    page.locator(".loupe-glass[aria-busy=false]").wait_for()


def box_of(page: Page, what: str) -> Any:
    return page.locator(what).first.bounding_box()


def tapped(page: Page, x: float, y: float) -> dict[str, Any]:
    """Tap a place of the picture, in shares; gives what was asked for it."""
    box = box_of(page, ".plan-board")
    place = box["x"] + x * box["width"], box["y"] + y * box["height"]
    with page.expect_response(is_close_up) as shown:
        page.touchscreen.tap(*place)
    rest(page)
    glass = box_of(page, ".loupe-glass")
    covered = (
        glass["x"] <= place[0] <= glass["x"] + glass["width"]
        and glass["y"] <= place[1] <= glass["y"] + glass["height"]
    )
    assert not covered
    return dict(shown.value.request.post_data_json)


def test_a_tapped_place_is_shown_as_it_will_be_on_paper(
    sheets: Phone, tell: Callable[[str], None]
) -> None:
    page = sheets.page
    asked = tapped(page, 0.3, 0.6)
    part, side = asked["part_mm"], box_of(page, ".loupe-glass")["width"]
    assert part["width"] * PX_PER_MM == pytest.approx(side, abs=1)
    # The paper is 60 × 40 cm.
    assert part["left"] + part["width"] / 2 == pytest.approx(180, abs=2)
    assert part["top"] + part["height"] / 2 == pytest.approx(240, abs=2)
    assert asked["width_px"] == round(side) * DENSITY
    # The same question has the same answer, whose bytes the page keeps to itself.
    answer = requests.post(f"{sheets.service.url}/v1/previews", json=asked, timeout=60)
    assert np.abs(painted(page).astype(int) - in_grey(answer.content)).max() <= 1
    scale = box_of(page, ".loupe-scale")["width"]
    assert scale == pytest.approx(10 * PX_PER_MM, abs=0.5)

    tapped(page, 0.05, 0.95)
    with page.expect_response(is_close_up):
        page.get_by_role("button", name=WORDS("loupe.larger")).tap()
    rest(page)
    assert box_of(page, ".loupe-scale")["width"] == pytest.approx(3 * scale, abs=1)

    # Nothing comes any more: what is there already is moved.
    page.route("**/v1/previews", lambda _: None)
    before, glass = painted(page), box_of(page, ".loupe-glass")
    page.mouse.move(glass["x"] + 100, glass["y"] + 60)
    page.mouse.down()
    page.mouse.move(glass["x"] + 60, glass["y"] + 60)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")
    moved = painted(page)
    page.mouse.up()
    by = 40 * DENSITY
    assert not np.array_equal(moved, before)
    assert np.abs(moved[:, :-by].astype(int) - before[:, by:]).max() <= 2
    talk = sheets.context.new_cdp_session(page)
    talk.send("Emulation.setCPUThrottlingRate", {"rate": 6})
    tell(f"a move in the loupe shows after {page.evaluate(MOVE_MS):.0f} ms, slowed six times")


def test_the_keyboard_opens_it_moves_it_and_closes_it(sheets: Phone) -> None:
    page = sheets.page
    opener = page.get_by_role("button", name=WORDS("loupe.title"))
    tab_to(page, opener)
    page.keyboard.press("Enter")
    glass = page.get_by_role("img", name=WORDS("loupe.place", left="30 cm", top="20 cm"))
    glass.wait_for()
    assert glass.evaluate("(one) => one === document.activeElement")
    rest(page)
    with page.expect_response(is_close_up) as first:
        page.keyboard.press("ArrowRight")
    with page.expect_response(is_close_up) as second:
        page.keyboard.press("ArrowDown")
    parts = [one.value.request.post_data_json["part_mm"] for one in (first, second)]
    # By their middles: the glass is as large as there is room beside its place.
    (left, top), (then_left, then_top) = (
        (part["left"] + part["width"] / 2, part["top"] + part["height"] / 2) for part in parts
    )
    assert left > 305
    assert then_left == pytest.approx(left, abs=0.5)
    assert then_top > top + 5
    rest(page)
    for _ in range(60):
        page.keyboard.press("ArrowDown")
    # It goes no further than the picture.
    name = page.locator(".loupe-glass").get_attribute("aria-label")
    assert name is not None
    assert page.locator(".loupe-frame").bounding_box()["y"] < sum(  # type: ignore[index]
        box_of(page, ".plan-board")[side] for side in ("y", "height")
    )
    page.keyboard.press("Escape")
    page.locator(".loupe-panel").wait_for(state="hidden")
    assert opener.evaluate("(one) => one === document.activeElement")
