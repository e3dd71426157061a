"""The paper: what cannot be read, and the smallest and the largest supports."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from tests.integration.page.conftest import Phone, at_sheets
from tests.integration.page.steps import Words, choose_photo, go_on, heading

WORDS = Words()


def test_a_length_that_cannot_be_read_is_not_gone_past(phone: Phone, photo: Path) -> None:
    """It stays with its reason: the size from before would be printed without anybody noticing."""
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("paper")
    width = page.get_by_label(WORDS("paper.width"), exact=True)
    width.fill("6o")
    width.blur()
    reason = page.get_by_text(WORDS("paper.unreadable", example=WORDS("paper.example-cm")))
    go_on(page, WORDS, "paper")
    expect(width).to_be_focused()
    expect(width).to_have_value("6o")
    expect(reason).to_be_visible()
    width.fill("60 x 45")
    go_on(page, WORDS, "paper")
    heading(page, WORDS("frame.title")).wait_for()
    paper = phone.state()["paper"]
    assert (paper["widthMm"], paper["heightMm"]) == (600, 450)


def test_one_sheet_has_no_seams_to_tell_of(phone: Phone, photo: Path) -> None:
    page = at_sheets(phone, photo, ("12", "10")).page
    expect(page.locator(".sum .small")).to_have_text(WORDS("sheets.shape-one"))


def test_a_mural_is_named_along_its_edges(phone: Phone, photo: Path) -> None:
    """A hundred labels would hide on a phone what they name: each row and column has one."""
    page = at_sheets(phone, photo, ("300", "200")).page
    labels = page.locator(".plan-board .label")
    assert int(page.locator(".sum-count .figure").text_content() or "0") > 100
    names = labels.all_text_contents()
    assert names[:3] == ["·1", "·2", "·3"]
    assert names[-1] == "10·"
    assert len(names) < 25
