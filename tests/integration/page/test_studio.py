"""In the studio: one step at a time, and what was measured decides its step."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest
import requests
from playwright.sync_api import Locator, Page, expect

from tests.integration.page.conftest import Phone, uploaded
from tests.integration.page.steps import Words
from tests.integration.service.conftest import Running
from tests.waiting import wait_until

WORDS = Words()
#: The lock that a browser gives, as W3C Screen Wake Lock has it; it notes what is asked of it.
WAKE_LOCK = """
  window.locks = [];
  Object.defineProperty(navigator, 'wakeLock', { value: { request: async (kind) => {
    const lock = { kind, released: false, release: async () => { lock.released = true; } };
    window.locks.push(lock);
    return lock;
  } } });
"""
#: A bare minimum for a thumb with chalk on it, in px.
LARGE_PX = 72


@pytest.fixture(scope="module")
def made(running: Running, portrait: bytes) -> dict[str, Any]:
    """A pack of 60 × 40 cm on six sheets, made past the page."""
    reference = uploaded(running, portrait)
    spec = {"support": {"width_mm": 600, "height_mm": 400, "medium": "pastel"}}
    body = {"reference_id": reference["id"], "spec": spec}
    asked = requests.post(f"{running.url}/v1/packs", json=body, timeout=60).json()
    path = f"{running.url}/v1/packs/{asked['id']}"
    wait_until(lambda: requests.get(path, timeout=60).json()["state"] == "ready")
    return dict(requests.get(path, timeout=60).json())


@pytest.fixture
def easel_at(phone_at: Callable[..., Phone], running: Running, made: dict[str, Any]) -> Any:
    """Opens the studio with the pack that was made."""

    def unpack(**more: Any) -> Phone:
        phone = phone_at(running, **more)
        state = {"pack": {"id": made["id"], "state": "ready"}}
        # Only before the first page: later ones find what the page has stored.
        text = json.dumps(json.dumps(state))
        phone.page.add_init_script(f"localStorage['ricalco.state.1'] ??= {text}")
        phone.page.add_init_script(WAKE_LOCK)
        phone.open("studio")
        heading(phone.page).wait_for()
        return phone

    return unpack


@pytest.fixture
def easel(easel_at: Any) -> Phone:
    """A phone in the studio."""
    return easel_at()  # type: ignore[no-any-return]


def heading(page: Page) -> Locator:
    """The step that is shown."""
    return page.locator(".studio-text")


def key(page: Page, name: str) -> Locator:
    """A button at the foot."""
    section = "common" if name in {"next", "back"} else "studio"
    return page.get_by_role("button", name=WORDS(f"{section}.{name}")).and_(
        page.locator(".studio-foot button")
    )


def go_to(page: Page, step: str) -> None:
    """Go to a step through the overview, as its key names it."""
    page.get_by_role("button", name=WORDS("studio.all-steps"), exact=True).click()
    page.locator(f".step-row:has([data-key='{step}']) button").click()


def box(page: Page, step: str) -> Locator:
    """The tick of a step in the overview that is open."""
    return page.locator(f"[data-key='{step}']")


def lit(page: Page) -> list[str]:
    """Labels of the sheets that are lit."""
    return page.locator(".map-label.lit text").all_text_contents()


def test_one_step_at_a_time_with_its_sheets_lit(easel: Phone, made: dict[str, Any]) -> None:
    page = easel.page
    tested = made["plan"]["sheet_to_test"]["label"]
    assert "1 " in (page.locator(".studio-place span").text_content() or "")
    assert lit(page) == []
    key(page, "step-done").tap()
    expect(heading(page)).to_contain_text(tested)
    assert lit(page) == [tested]
    # What is done is ticked on the map, and stays so when the phone was closed.
    key(page, "step-done").tap()
    expect(page.locator(".map-label.done text")).to_have_text(f"{tested} ✓")
    page.reload()
    heading(page).wait_for()
    page.get_by_label(WORDS("printer.bar.across")).wait_for()
    expect(page.locator(".map-label.done")).to_have_count(1)
    key(page, "back").tap()
    key(page, "next").wait_for()
    page.get_by_role("button", name=WORDS("studio.all-steps"), exact=True).tap()
    assert [box(page, f"print.{step}").is_checked() for step in ("load", "test", "measure")] == [
        True,
        True,
        False,
    ]
    page.get_by_role("button", name=WORDS("studio.start-over")).tap()
    assert page.locator(".step-row input:checked").count() == 0
    page.get_by_role("button", name=WORDS("studio.retick")).tap()
    assert page.locator(".step-row input:checked").count() == 2


def test_what_is_measured_decides_its_tick(easel: Phone) -> None:
    """README, "Printing, in short": what it should be divided by what was measured.

    600 × 400 mm lies on its side: half the height is 200 mm across the page.
    """
    page = easel.page
    go_to(page, "print.measure")
    page.get_by_text("200\u00a0mm ± 0.3\u00a0mm").wait_for()
    key(page, "skip").wait_for()
    for exact in page.locator(".exact").all():
        exact.tap()
    expect(heading(page)).to_have_class("studio-text done")
    key(page, "next").wait_for()
    # Page fitting was left on: beside such a reading no tick stands.
    across = page.get_by_label(WORDS("printer.bar.across"))
    across.fill("191")
    page.get_by_role("main").get_by_text(WORDS("printer.bar.fitted").split("%: ")[1]).wait_for()
    assert page.get_by_role("button", name=WORDS("printer.bar.apply")).count() == 0
    expect(heading(page)).to_have_class("studio-text")
    key(page, "skip").wait_for()
    page.get_by_role("button", name=WORDS("studio.all-steps"), exact=True).tap()
    assert not box(page, "print.measure").is_checked()
    assert box(page, "print.measure").is_disabled()
    page.get_by_text(WORDS("studio.off"), exact=True).and_(page.locator(":visible")).wait_for()
    page.get_by_role("button", name=WORDS("studio.close"), exact=True).tap()
    page.get_by_label(WORDS("printer.bar.down")).fill("12 km")
    assert page.locator(".verdict.wrong").count() == 2
    page.get_by_label(WORDS("printer.bar.down")).fill("")
    across.fill("198")
    page.get_by_role("button", name=WORDS("printer.bar.apply")).tap()
    assert easel.state()["sheets"]["acrossCorrection"] == pytest.approx(200 / 198, abs=1e-4)
    assert easel.state()["sheets"]["downCorrection"] == 1


def test_diagonals_that_differ_say_which_way(easel: Phone) -> None:
    page = easel.page
    go_to(page, "check.width")
    width = page.get_by_label(WORDS("printer.length.width"), exact=True)
    width.fill("603")
    page.get_by_role("main").get_by_text(WORDS("printer.length.long").split("} ")[1]).wait_for()
    width.fill("600.5")
    page.locator(".verdict.fine").wait_for()
    assert page.locator(".map-length").count() == 1
    go_to(page, "check.diagonals")
    # A picture of 600 × 400 mm whose top has been pushed 4 mm to the right (Pythagoras).
    for name, sum_mm in {"diagonal": 596, "other diagonal": 604}.items():
        field = page.get_by_label(WORDS(f"printer.length.{name}"), exact=True)
        field.fill(f"{math.hypot(sum_mm, 400):.1f}")
    leans = page.locator(".verdict", has_text=WORDS("printer.length.leans").split("{toward}")[0])
    assert WORDS("printer.length.right") in (leans.text_content() or "")
    expect(heading(page)).to_have_class("studio-text")


def test_cautions_stand_where_the_danger_comes_up(easel: Phone) -> None:
    page = easel.page
    care = page.locator(".studio-care")
    go_to(page, "cut.mark")
    assert care.count() == 0
    go_to(page, "cut.flap")
    care.get_by_text(WORDS("studio.caution.blades")).wait_for()
    go_to(page, "cut.stack-0")
    assert care.get_attribute("open") is None
    go_to(page, "begin.lines")
    for danger in ("dust", "fixative", "first"):
        care.get_by_text(WORDS(f"studio.caution.{danger}")).wait_for()


def test_the_screen_stays_awake_only_here(easel: Phone) -> None:
    page = easel.page
    wait_until(lambda: page.evaluate("window.locks.length === 1"))
    # A browser takes it away while the page is hidden.
    page.evaluate("""() => {
      window.locks[0].released = true;
      document.dispatchEvent(new Event('visibilitychange'));
    }""")
    wait_until(lambda: page.evaluate("window.locks[1]?.kind === 'screen'"))
    easel.open("paper")
    wait_until(lambda: page.evaluate("window.locks[1].released"))
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("window.locks.length") == 2


def test_buttons_are_large_and_in_reach_of_either_hand(easel: Phone) -> None:
    page = easel.page
    go_to(page, "print.measure")
    for left_handed in (False, True):
        if left_handed:
            page.get_by_role("button", name=WORDS("studio.all-steps"), exact=True).click()
            page.get_by_label(WORDS("common.left-handed")).check()
            page.get_by_role("button", name=WORDS("studio.close"), exact=True).click()
        for width, height in ((360, 640), (390, 844), (820, 1180), (1280, 800)):
            page.set_viewport_size({"width": width, "height": height})
            boxes = [key(page, name).bounding_box() for name in ("skip", "back")]
            onward, back = (one for one in boxes if one)
            assert min(onward["height"], back["height"]) >= LARGE_PX
            assert max(one["y"] + one["height"] for one in (onward, back)) <= height
            assert (onward["x"] < back["x"]) is left_handed
            picture = page.locator(".studio-map").bounding_box()
            assert picture is not None
            assert picture["height"] >= 80
            assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.reload()
    heading(page).wait_for()
    assert easel.state()["leftHanded"] is True


def test_by_keys_alone(easel: Phone, made: dict[str, Any]) -> None:
    page = easel.page
    key(page, "step-done").focus()
    page.keyboard.press("Enter")
    # The focus stays on the button, and what is to be done is said.
    page.keyboard.press("Enter")
    page.get_by_label(WORDS("printer.bar.across")).wait_for()
    said = page.locator("#polite").text_content() or ""
    assert made["plan"]["sheet_to_test"]["label"] in said
