"""No barrier that axe-core finds, on any screen, in either light, in either language.

Rules of WCAG 2.0 to 2.2, A and AA, and axe-core's best practices (Deque Systems, MPL 2.0).
What a machine can find is the smaller part; the rest is held by the tests by keyboard.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.integration.page.conftest import ROOT, Phone
from tests.integration.page.steps import Words, choose_photo, heading

AXE = ROOT / ".venv" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
STEPS = ("photo", "paper", "frame", "sheets", "pack", "studio")


@pytest.fixture(scope="module")
def axe() -> str:
    """The script that looks for barriers."""
    assert AXE.exists(), "axe-core is missing: bash deploy/test.sh fetches it"
    return AXE.read_text(encoding="utf-8")


def barriers(page: Page, axe: str) -> list[str]:
    """What axe-core finds on the screen, each with the elements at fault."""
    # What is just passing under a picture that stays in sight is no small target.
    page.evaluate("scrollTo(0, 0)")
    page.evaluate(axe)
    found: Any = page.evaluate(
        "(tags) => axe.run(document, { runOnly: { type: 'tag', values: tags } })", TAGS
    )
    return [
        f"{one['id']}: {node['html'][:120]} {node['failureSummary']}"
        for one in found["violations"]
        for node in one["nodes"]
    ]


def small_targets(page: Page) -> list[Any]:
    """Things to be tapped that are smaller than a fingertip (44 px; inline links aside)."""
    found: list[Any] = page.evaluate("""() =>
      [...document.querySelectorAll("main button, main a.button, main select, nav a, .bar button")]
        .map((one) => [one, one.getBoundingClientRect()])
        .filter(([, box]) => box.width > 0 && (box.width < 43.5 || box.height < 43.5))
        .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${box.width} × ${box.height}`)
    """)
    return found


def too_wide(page: Page) -> Any:
    """By how much the page must be pushed sideways, in px."""
    return page.evaluate("document.documentElement.scrollWidth - innerWidth")


def settle(page: Page) -> None:
    """Wait until nothing moves and nothing is asked any more."""
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(150)


@pytest.mark.parametrize("language", ["en", "it"])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_screen_has_a_barrier(
    phone_at: Callable[..., Phone],
    running: Any,
    photo: Path,
    axe: str,
    language: str,
    theme: Any,
) -> None:
    words = Words(language)
    phone = phone_at(running, locale={"en": "en-GB", "it": "it-IT"}[language], color_scheme=theme)
    page = phone.open()
    found = {"no photo": barriers(page, axe), "no pack": []}
    choose_photo(page, photo, words)
    for step in STEPS:
        phone.open(step)
        page.get_by_role("heading", level=1).wait_for()
        settle(page)
        found[step] = [*barriers(page, axe), *small_targets(page)]
        assert too_wide(page) <= 0, step
        assert page.locator("html").get_attribute("lang") == language
    phone.open("sheets")
    page.get_by_role("button", name=words("sheets.protect.middle")).click()
    page.locator("g.area").wait_for()
    page.locator("details summary").first.click()
    found["a protected area"] = barriers(page, axe)
    phone.open("pack")
    page.get_by_role("button", name=words("pack.make")).click()
    page.get_by_role("link", name=words("pack.download")).wait_for()
    page.get_by_role("img", name=words("pack.map")).evaluate("(image) => image.decode()")
    found["a ready pack"] = [*barriers(page, axe), *small_targets(page)]
    assert too_wide(page) <= 0
    phone.open("studio")
    page.get_by_role("checkbox").first.wait_for()
    page.get_by_label(words("studio.bar.across")).fill("99")
    found["a checklist"] = [*barriers(page, axe), *small_targets(page)]
    assert too_wide(page) <= 0
    assert {step: faults for step, faults in found.items() if faults} == {}


def test_settings_are_a_dialog_without_barriers(phone: Phone, axe: str) -> None:
    words, page = Words(), phone.open()
    page.get_by_role("button", name=words("settings.open")).click()
    page.get_by_role("dialog", name=words("settings.title")).wait_for()
    assert barriers(page, axe) == []
    page.get_by_text("Italiano", exact=True).click()
    heading(page, Words("it")("photo.title")).wait_for()
    assert page.locator("html").get_attribute("lang") == "it"


@pytest.mark.parametrize("width_px", [320, 360, 768, 1280])
def test_no_width_needs_pushing_sideways(
    phone_at: Callable[..., Phone], running: Any, photo: Path, width_px: int
) -> None:
    """From 320 px, as WCAG 2.2, 1.4.10 (Reflow) asks."""
    phone = phone_at(running, viewport={"width": width_px, "height": 800})
    page = phone.open()
    choose_photo(page, photo, Words())
    for step in STEPS:
        phone.open(step)
        page.get_by_role("heading", level=1).wait_for()
        settle(page)
        assert too_wide(page) <= 0, step
