"""No barrier that axe-core finds in the drawing aids, in either light, in either language.

Checked as the ordinary screens are: rules, tap targets and reflow stand in test_barriers.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.integration.page.conftest import PHONE, Phone
from tests.integration.page.steps import Words, choose_photo
from tests.integration.page.test_barriers import AXE, barriers, settle, small_targets, too_wide

TABLET = {"width": 820, "height": 1100}


def style(page: Page, name: str) -> None:
    """Choose a style, and wait until the service has drawn it."""
    page.locator(f"input[name=style][value={name}]").check(force=True)
    page.locator(".plan-print img").wait_for()
    page.locator(".plan-easel[aria-busy=false]").wait_for()


@pytest.mark.parametrize(
    ("language", "theme", "size"),
    [
        ("en", "light", PHONE),
        ("it", "dark", PHONE),
        ("it", "light", TABLET),
        ("en", "dark", TABLET),
    ],
)
def test_no_drawing_aid_has_a_barrier(
    phone_at: Callable[..., Phone],
    running: Any,
    photo: Path,
    language: str,
    theme: Any,
    size: Any,
) -> None:
    axe = AXE.read_text(encoding="utf-8")
    words = Words(language)
    locale = {"en": "en-GB", "it": "it-IT"}[language]
    phone = phone_at(running, locale=locale, color_scheme=theme, viewport=size)
    page = phone.open()
    choose_photo(page, photo, words)
    found = {}

    def look(state: str) -> None:
        settle(page)
        found[state] = [*barriers(page, axe), *small_targets(page)]
        if too_wide(page) > 0:
            found[state].append("too wide")

    phone.open("sheets")
    page.get_by_label(words("squares.show")).check()
    style(page, "outline")
    page.locator(".grid-line").first.wait_for(state="attached")
    look("outlines under a grid")
    page.locator("input[name=view][value=both]").check(force=True)
    style(page, "values")
    page.locator(".scale-handle").first.wait_for()
    page.locator("details summary").last.click()
    look("values beside the photo")
    phone.open("square")
    page.locator(".corner-handle").first.focus()
    page.locator(".square-lens").wait_for()
    look("four corners")
    phone.open("printer")
    page.get_by_label(words("printer.across")).fill("191")
    page.locator(".verdict.wrong").wait_for()
    page.get_by_label(words("printer.with-margins")).check()
    look("a printer that fits pages")
    assert {state: faults for state, faults in found.items() if faults} == {}
