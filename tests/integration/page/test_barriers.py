"""No barrier that axe-core finds, on any screen, in either light, in either language.

Rules of WCAG 2.0 to 2.2, A and AA, and axe-core's best practices (Deque Systems, MPL 2.0).
What a machine can find is the smaller part; the rest is held by the tests by keyboard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.integration.page.conftest import ROOT, Phone
from tests.integration.page.steps import Words, choose_photo, heading, open_tool
from tests.integration.window import PHONE

pytestmark = pytest.mark.slow

AXE = ROOT / ".venv" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
STEPS = ("photo", "paper", "frame", "sheets", "pack", "studio")
#: A colour on its way from one light to the other stands out from nothing.
TRANSITIONS_OVER = """async () => {
  for (const _ of [1, 2]) await new Promise(requestAnimationFrame);
  const passing = document.getAnimations().filter((one) => one instanceof CSSTransition);
  await Promise.allSettled(passing.map((one) => one.finished));
}"""
LOCALES = {"en": "en-GB", "it": "it-IT"}
#: Only what is at fault leaves the browser: handing over all that is in order takes three times
#: as long as looking for barriers.
LOOK = """async (tags) => {
  const how = { runOnly: { type: "tag", values: tags }, resultTypes: ["violations"] };
  const { violations } = await axe.run(document, how);
  return violations.flatMap(({ id, nodes }) =>
    nodes.map(({ html, failureSummary }) => `${id}: ${html.slice(0, 120)} ${failureSummary}`));
}"""


@pytest.fixture(scope="module")
def axe() -> str:
    """The script that looks for barriers."""
    assert AXE.exists(), "axe-core is missing: bash deploy/test.sh fetches it"
    return AXE.read_text(encoding="utf-8")


def barriers(page: Page, axe: str) -> list[str]:
    """What axe-core finds on the screen, each with the elements at fault."""
    # What is just passing under a picture that stays in sight is no small target.
    page.evaluate("scrollTo(0, 0)")
    if not page.evaluate("'axe' in window"):
        page.evaluate(axe)
    return list(page.evaluate(LOOK, TAGS))


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
    """By how much the page must be pushed sideways, in px.

    On a phone `innerWidth` grows with what is too wide, since it zooms out: it tells nothing.
    """
    root = "document.documentElement"
    return page.evaluate(f"{root}.scrollWidth - {root}.clientWidth")


def settle(page: Page) -> None:
    """Wait until nothing moves and nothing is asked any more."""
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(150)
    page.evaluate(TRANSITIONS_OVER)


class Looks:
    """Looks for faults on each screen in several lights and at several widths, in place.

    Args:
        page: Where the screens are shown.
        axe: The script that looks for barriers.
        looks: Theme and window of each look; the first is as screens are come to.
    """

    def __init__(self, page: Page, axe: str, looks: Sequence[tuple[Any, Any]]) -> None:
        self._page, self._axe, self._looks = page, axe, looks
        self._found: dict[tuple[Any, ...], list[Any]] = {}
        self._switch(*looks[0])

    def __call__(self, screen: str, most: int | None = None) -> None:
        """Look at a screen, in so many of the lights."""
        for theme, window in self._looks[:most]:
            self._switch(theme, window)
            settle(self._page)
            found = [*barriers(self._page, self._axe), *small_targets(self._page)]
            found += [f"{wide} px too wide"] if (wide := too_wide(self._page)) > 0 else []
            self._found[screen, theme, window["width"]] = found
        self._switch(*self._looks[0])

    def check(self) -> None:
        """No look has found anything."""
        assert {look: faults for look, faults in self._found.items() if faults} == {}

    def _switch(self, theme: Any, window: Any) -> None:
        self._page.emulate_media(color_scheme=theme)
        self._page.set_viewport_size(window)


@pytest.mark.parametrize(
    ("language", "look_at"),
    [
        ("en", [("light", PHONE), ("dark", {"width": 1280, "height": 800})]),
        (
            "it",
            [("dark", {"width": 360, "height": 640}), ("light", {"width": 820, "height": 1180})],
        ),
    ],
)
def test_no_screen_has_a_barrier(  # Fixtures.
    phone_at: Callable[..., Phone],
    running: Any,
    photo: Path,
    axe: str,
    language: str,
    look_at: list[tuple[str, Any]],
) -> None:
    """Each screen is looked at in one of four sizes in each language and light, tools at one."""
    words = Words(language)
    phone = phone_at(running, locale=LOCALES[language])
    page = phone.open()
    look = Looks(page, axe, look_at)
    look("no photo")
    choose_photo(page, photo, words)
    for step in STEPS:
        phone.open(step)
        page.get_by_role("heading", level=1).wait_for()
        look(step)
        at_bench = step in {"paper", "frame", "sheets"}
        for tool in page.locator(".tool:visible").all() if at_bench else []:
            tool.click()
            look(f"{step}, {tool.text_content()}", most=1)
        assert page.locator("html").get_attribute("lang") == language
    phone.open("sheets")
    open_tool(page, "protect")
    page.get_by_role("button", name=words("sheets.protect.middle")).click()
    page.locator("g.area").wait_for()
    page.locator(".area-list summary").click()
    look("a protected area")
    page.locator(".outcome-sum summary").click()
    look("what comes of the choices")
    phone.open("pack")
    with page.expect_response(lambda answer: answer.url.endswith("/v1/packs")) as asked:
        page.get_by_role("button", name=words("pack.make")).click()
    assert asked.value.json()["spec"]["language"] == language
    page.get_by_role("link", name=words("pack.download")).wait_for()
    page.get_by_role("img", name=words("pack.map")).evaluate("(image) => image.decode()")
    look("a ready pack")
    phone.open("studio")
    page.get_by_role("button", name=words("studio.all-steps"), exact=True).click()
    look("all steps of the studio")
    page.locator(".step-row:has([data-key='print.measure']) button").click()
    page.get_by_label(words("printer.bar.across")).fill("99")
    look("a step that measures")
    look.check()


def test_settings_are_a_dialog_without_barriers(phone: Phone, axe: str) -> None:
    words, page = Words(), phone.open()
    page.get_by_role("button", name=words("settings.open")).click()
    page.get_by_role("dialog", name=words("settings.title")).wait_for()
    assert barriers(page, axe) == []
    page.get_by_text("Italiano", exact=True).click()
    heading(page, Words("it")("photo.title")).wait_for()
    assert page.locator("html").get_attribute("lang") == "it"


def test_no_width_needs_pushing_sideways(phone: Phone, photo: Path) -> None:
    """From 320 px, as WCAG 2.2, 1.4.10 (Reflow) asks."""
    page = phone.open()
    choose_photo(page, photo, Words())
    wide = {}
    for step in STEPS:
        phone.open(step)
        page.get_by_role("heading", level=1).wait_for()
        for width_px in (320, 360, 768, 1280):
            page.set_viewport_size({"width": width_px, "height": 800})
            settle(page)
            wide[step, width_px] = too_wide(page)
    assert {where: pixels for where, pixels in wide.items() if pixels > 0} == {}
