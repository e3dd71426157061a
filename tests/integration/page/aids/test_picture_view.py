"""The picture is enlarged and moved without a gesture (WCAG 2.2, 2.5.1), and shown whole again."""

from __future__ import annotations

import pytest
from playwright.sync_api import FloatRect, Page, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words

WORDS = Words()


def drawn(page: Page) -> FloatRect:
    """Where the picture lies on the screen, and how large."""
    box = page.locator(".plan-board").bounding_box()
    assert box is not None
    return box


def test_buttons_and_keys_enlarge_and_move_it(sheets: Phone) -> None:
    page = sheets.page
    less, whole, more = (
        page.get_by_role("button", name=WORDS(f"view.{name}"), exact=True)
        for name in ("less", "whole", "more")
    )
    for button in (less, whole):
        expect(button).to_have_attribute("aria-disabled", "true")
    first = drawn(page)
    more.click()
    by_button = drawn(page)
    growth = by_button["width"] / first["width"]
    assert growth > 1
    # About the middle of its place.
    assert by_button["x"] == pytest.approx(first["x"] - (growth - 1) * first["width"] / 2, abs=1)
    less.click()
    assert drawn(page) == pytest.approx(first, abs=1)

    page.locator(".view-port").focus()
    for key in "++":
        page.keyboard.press(key)
    by_keys = drawn(page)
    assert by_keys["width"] == pytest.approx(growth**2 * first["width"], rel=0.01)
    # To the right is seen what lies there: the picture moves to the left.
    page.keyboard.press("ArrowRight")
    assert drawn(page)["x"] < by_keys["x"] - 10
    for _ in range(20):
        page.keyboard.press("ArrowLeft")
    port = page.locator(".view-port").bounding_box()
    assert port is not None
    # It never leaves its place.
    assert drawn(page)["x"] == pytest.approx(port["x"], abs=1)
    page.keyboard.press("-")
    assert drawn(page)["width"] == pytest.approx(growth * first["width"], rel=0.01)

    whole.click()
    assert drawn(page) == pytest.approx(first, abs=1)
    expect(whole).to_be_focused()
    expect(whole).to_have_attribute("aria-disabled", "true")
