"""No barrier that axe-core finds in the drawing aids, in either light, in either language.

Checked as the ordinary screens are: rules, tap targets and reflow stand in test_barriers.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, open_tool
from tests.integration.page.test_barriers import AXE, LOCALES, Looks
from tests.integration.window import PHONE

pytestmark = pytest.mark.slow

TABLET = {"width": 820, "height": 1100}


def style(page: Page, name: str) -> None:
    """Choose a style, and wait until the service has drawn it."""
    open_tool(page, "style")
    page.locator(f"input[name=style][value={name}]").check(force=True)
    page.locator(".plan-print img").wait_for()
    page.locator(".plan-easel[aria-busy=false]").wait_for()


@pytest.mark.parametrize(
    ("language", "looks"),
    [
        ("en", [("light", PHONE), ("dark", TABLET)]),
        ("it", [("dark", PHONE), ("light", TABLET)]),
    ],
)
def test_no_drawing_aid_has_a_barrier(
    phone_at: Callable[..., Phone], running: Any, photo: Path, language: str, looks: Any
) -> None:
    words = Words(language)
    phone = phone_at(running, locale=LOCALES[language])
    page = phone.open()
    look = Looks(page, AXE.read_text(encoding="utf-8"), looks)
    choose_photo(page, photo, words)
    phone.open("sheets")
    open_tool(page, "more")
    page.get_by_label(words("squares.show")).check()
    style(page, "outline")
    page.locator(".grid-line").first.wait_for(state="attached")
    look("outlines under a grid")
    page.get_by_role("button", name=words("loupe.title")).click()
    page.locator(".loupe-glass[aria-busy=false]").wait_for()
    look("a loupe over outlines")
    page.keyboard.press("Escape")
    page.locator("input[name=view][value=both]").check(force=True)
    style(page, "values")
    open_tool(page, "settings")
    page.locator(".scale-handle").first.wait_for()
    page.locator(".values-fields summary").click()
    look("values beside the photo")
    phone.open("square")
    page.locator(".corner-handle").first.focus()
    page.locator(".square-lens").wait_for()
    look("four corners")
    phone.open("printer")
    page.locator(".test-leaf").wait_for()
    open_tool(page, "bars")
    page.get_by_label(words("printer.across")).fill("191")
    page.locator(".verdict.wrong").wait_for()
    look("a printer that fits pages")
    open_tool(page, "edges")
    page.get_by_label(words("printer.with-margins")).check()
    look("a printer's unprintable edges")
    look.check()
