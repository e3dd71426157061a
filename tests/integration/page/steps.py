"""What people do on the page, by the names that the page itself gives to things."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page

from client.web import FOLDER

#: A page has some eighty places for the focus; more presses than that lead nowhere.
MOST_TABS = 150


class Words:
    """The catalogue of a language: `words("photo.next")`."""

    def __init__(self, language: str = "en") -> None:
        self._texts: dict[str, Any] = {}
        for path in sorted((FOLDER / "words" / language).glob("*.json")):
            for screen, texts in json.loads(path.read_text(encoding="utf-8")).items():
                self._texts.setdefault(screen, {}).update(texts)

    def __call__(self, key: str, **values: object) -> str:
        """A text, with values put in."""
        found: Any = self._texts
        for name in key.split("."):
            found = found[name]
        for name, value in values.items():
            found = found.replace(f"{{{name}}}", str(value))
        return str(found)


def heading(page: Page, text: str) -> Locator:
    """The screen's heading."""
    return page.get_by_role("heading", level=1, name=text)


def choose_photo(page: Page, photo: Path, words: Words) -> None:
    """Choose a photo, and wait until the service has it."""
    page.get_by_label(words("photo.file")).set_input_files(photo)
    page.get_by_role("link", name=words("photo.next")).wait_for()


def go_on(page: Page, words: Words, step: str) -> None:
    """Tap the primary button of a step."""
    page.get_by_role("link", name=words(f"{step}.next")).click()


def open_tool(page: Page, name: str) -> None:
    """Open a tool's panel, unless it is open."""
    tool = page.locator(f'.tool[data-tool="{name}"]')
    if tool.get_attribute("aria-expanded") != "true":
        tool.click()


def set_paper(page: Page, words: Words, width: str, height: str) -> None:
    """Say what the paper measures, in the unit that is chosen."""
    open_tool(page, "size")
    for label, length in (("width", width), ("height", height)):
        field = page.get_by_label(words(f"paper.{label}"), exact=True)
        field.fill(length)
        field.blur()


def tab_to(page: Page, target: Locator, *, back: bool = False) -> None:
    """Move the focus to something with the Tab key alone."""
    for _ in range(MOST_TABS):
        if target.evaluate("(element) => element === document.activeElement"):
            return
        page.keyboard.press("Shift+Tab" if back else "Tab")
    message = f"{target} cannot be reached with the Tab key"
    raise AssertionError(message)
