"""What a student does in the frame, by the names that the page itself gives to things."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Frame

from tests.integration.page.steps import Words, set_paper

WORDS = Words()


def choose(frame: Frame, photo: Path) -> None:
    """Choose a photo in the frame."""
    frame.get_by_label(WORDS("photo.file")).set_input_files(photo)
    frame.get_by_role("link", name=WORDS("photo.next")).wait_for()


def go_on(frame: Frame, step: str) -> None:
    """Tap the primary button of a step."""
    frame.get_by_role("link", name=WORDS(f"{step}.next")).click()


def make_pack(frame: Frame, photo: Path, title: str) -> None:
    """From the photo to the pack that is ready."""
    choose(frame, photo)
    go_on(frame, "photo")
    frame.get_by_role("heading", name=WORDS("paper.title")).wait_for()
    set_paper(frame, WORDS, "40", "30")  # type: ignore[arg-type]  # A frame finds as a page does.
    go_on(frame, "paper")
    frame.get_by_role("heading", name=WORDS("frame.title")).wait_for()
    go_on(frame, "frame")
    frame.locator(".plan-board .label").first.wait_for()
    go_on(frame, "sheets")
    frame.get_by_label(WORDS("pack.name")).fill(title)
    frame.get_by_role("button", name=WORDS("pack.make")).click()
    frame.get_by_role("link", name=WORDS("pack.download")).wait_for()
