"""The crop, by keys alone, by figures, by two fingers and by the wheel."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Request, expect

from tests.integration.page.conftest import ROOT, Phone
from tests.integration.page.steps import Words, choose_photo, heading, open_tool, tab_to

WORDS = Words()


@pytest.fixture
def framing(phone: Phone, photo: Path) -> Phone:
    """A phone at the frame step, with a square photo for a picture of 60 × 40 cm."""
    page = phone.open()
    choose_photo(page, photo, WORDS)
    page = phone.open("frame")
    heading(page, WORDS("frame.title")).wait_for()
    page.locator(".finder-photo").evaluate("(image) => image.decode()")
    return phone


def frame(phone: Phone) -> dict[str, Any]:
    """The frame that the page keeps."""
    return dict(phone.state()["frame"])


def spec_asked(page: Page, act: Callable[[], None]) -> dict[str, Any]:
    """The spec of the plan that is asked for because of an act."""
    with page.expect_request("**/v1/plans") as asked:
        act()
    return dict(asked.value.post_data_json["spec"])


def test_the_crop_is_set_by_keys_alone(framing: Phone) -> None:
    page = framing.page
    finder = page.get_by_role("application", name=WORDS("frame.easel"))
    tab_to(page, finder)
    for key in ["+"] * 8:
        page.keyboard.press(key)
    before = frame(framing)
    # The largest crop of a square photo is as wide as it: eight steps of 5 % smaller.
    assert before["width"] == pytest.approx(1.05**-8, rel=1e-3)
    for key in ["ArrowRight"] * 3 + ["ArrowUp"] * 2:
        page.keyboard.press(key)
    after = frame(framing)
    assert after["cx"] - before["cx"] == pytest.approx(3 * 0.02 * before["width"], rel=1e-3)
    # The picture is 3:2, so its height is two thirds of its width, on a square photo.
    assert before["cy"] - after["cy"] == pytest.approx(2 * 0.02 * before["width"] / 1.5, rel=1e-3)
    spec = spec_asked(page, lambda: page.keyboard.press("Shift+ArrowLeft"))
    assert spec["crop"]["width"] == pytest.approx(after["width"])


def test_the_crop_is_set_by_figures_and_buttons(framing: Phone) -> None:
    page = framing.page
    open_tool(page, "place")
    width = page.get_by_label(WORDS("frame.width"), exact=True)
    width.fill("50")
    width.press("Enter")
    left = page.get_by_label(WORDS("frame.left"), exact=True)
    left.fill("10")
    left.press("Enter")
    now = frame(framing)
    assert (now["width"], now["cx"]) == pytest.approx((0.5, 0.35), abs=1e-6)
    more = WORDS("frame.more", what=WORDS("frame.left"))
    page.get_by_role("button", name=more).click()
    assert frame(framing)["cx"] == pytest.approx(0.36, abs=1e-6)
    page.get_by_role("button", name=WORDS("frame.closer")).click()
    assert frame(framing)["width"] < 0.5
    page.get_by_role("button", name=WORDS("frame.reset")).click()
    assert frame(framing)["width"] == pytest.approx(1)


def test_it_is_straightened_and_stays_inside_the_photo(framing: Phone) -> None:
    page = framing.page
    open_tool(page, "turn")
    degrees = page.get_by_label(WORDS("frame.degrees"), exact=True)
    degrees.fill("-7,5")
    spec = spec_asked(page, lambda: degrees.press("Enter"))
    assert spec["rotate_deg"] == -7.5
    # A turned crop no longer fits the whole width; the service took it, so it lies inside.
    assert spec["crop"]["width"] < 1
    # In words first; the figures are there for who opens them.
    words = page.locator(".sharpness summary", has_text=re.compile(r"\w"))
    expect(words).not_to_contain_text("mm")
    words.click()
    expect(page.locator(".sharpness p")).to_contain_text("mm")


def test_two_fingers_bring_it_closer_and_one_moves_it(framing: Phone) -> None:
    page = framing.page
    finder = page.get_by_role("application", name=WORDS("frame.easel"))
    box = finder.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    talk = framing.context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": px, "y": py, "id": number} for number, (px, py) in enumerate(places)]
        talk.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (x - 30, y), (x + 30, y))
    for apart in (40, 50, 60):
        touch("touchMove", (x - apart, y), (x + apart, y))
    touch("touchEnd")
    closer = frame(framing)
    assert closer["width"] == pytest.approx(0.5, rel=0.05)
    touch("touchStart", (x, y))
    for step in (20, 40, 60):
        touch("touchMove", (x + step, y))
    touch("touchEnd")
    moved = frame(framing)
    # The photo follows the finger, so the crop goes the other way.
    assert moved["cx"] < closer["cx"] - 0.02


def test_the_wheel_brings_it_closer(framing: Phone) -> None:
    page = framing.page
    box = page.get_by_role("application", name=WORDS("frame.easel")).bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def closer(asked: Request) -> bool:
        # The plan of the whole photo may be asked for as late.
        if not asked.url.endswith("/v1/plans") or asked.post_data_json is None:
            return False
        return float(asked.post_data_json["spec"]["crop"]["width"]) < 0.95

    with page.expect_request(closer):
        page.mouse.wheel(0, -120)


#: From a finger's move to the frame that shows it, by the browser's own clock.
NOTE_MOVES = """
  window.movesMs = [];
  document.addEventListener("pointermove", ({ timeStamp }) => requestAnimationFrame(() => {
    const shown = new MessageChannel();
    shown.port1.onmessage = () => window.movesMs.push(performance.now() - timeStamp);
    shown.port2.postMessage(0);
  }), { capture: true });
"""


@pytest.mark.alone
def test_a_move_of_twelve_megapixels_is_told(phone: Phone, tell: Callable[[str], None]) -> None:
    """On a phone's processor: the browser's, slowed six times."""
    page = phone.open()
    choose_photo(page, ROOT / "deploy" / "demo" / "still_life.jpg", WORDS)
    page = phone.open("frame")
    photo = page.locator(".finder-photo")
    photo.evaluate("(image) => image.decode()")
    talk = phone.context.new_cdp_session(page)
    page.evaluate(NOTE_MOVES)
    talk.send("Emulation.setCPUThrottlingRate", {"rate": 6})
    box = page.get_by_role("application", name=WORDS("frame.easel")).bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = photo.evaluate("(image) => image.style.transform")
    page.get_by_role("button", name=WORDS("frame.closer")).click()
    for number in range(30):
        at = {"x": x + 3 * (number % 10), "y": y + 2 * (number % 7), "id": 0}
        kind = "touchMove" if number else "touchStart"
        talk.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [at]})
    talk.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert photo.evaluate("(image) => image.style.transform") != before
    moves = sorted(page.evaluate("window.movesMs"))
    assert moves
    tell(
        f"a move on 12 megapixels, slowed six times: {moves[len(moves) // 2]:.0f} ms, "
        f"longest {moves[-1]:.0f} ms of {len(moves)}"
    )
