"""The paper: how its size may be said, what cannot be, and the smallest and largest supports."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.integration.page.conftest import Phone, at_sheets
from tests.integration.page.steps import Words, choose_photo, go_on, heading, open_tool, set_paper

WORDS = Words()


@pytest.fixture
def sizing(phone: Phone, photo: Path) -> Phone:
    """A phone at the paper step, the panel of the size open."""
    choose_photo(phone.open(), photo, WORDS)
    open_tool(phone.open("paper"), "size")
    page = phone.page
    expect(page.get_by_label(WORDS("paper.named")).locator("option")).not_to_have_count(1)
    return phone


def side(page: Page, name: str = "width") -> Locator:
    """The field of a side."""
    return page.get_by_label(WORDS(f"paper.{name}"), exact=True)


def sides(phone: Phone) -> tuple[float, float]:
    """The size that the page keeps."""
    paper = phone.state()["paper"]
    return paper["widthMm"], paper["heightMm"]


def test_a_length_that_cannot_be_read_is_not_gone_past(sizing: Phone) -> None:
    """It stays with its reason: the size from before would be printed without anybody noticing."""
    page, width = sizing.page, side(sizing.page)
    page.locator(".outcome .figure").wait_for()
    width.fill("6o")
    width.blur()
    unread = WORDS("paper.unreadable", example=WORDS("paper.example-cm"))
    # Nothing beside it speaks for the size from before.
    expect(page.locator(".reading")).to_have_text(unread)
    expect(page.locator(".outcome")).to_have_text(unread)
    expect(page.get_by_label(WORDS("paper.named"))).to_have_value("")
    page.locator('.tool[data-tool="border"]').click()
    go_on(page, WORDS, "paper")
    expect(width).to_be_focused()
    expect(width).to_have_value("6o")
    width.fill("60 x 45")
    expect(page.locator(".outcome .figure")).to_be_visible()
    go_on(page, WORDS, "paper")
    heading(page, WORDS("frame.title")).wait_for()
    assert sides(sizing) == (600, 450)


def test_a_size_that_the_service_refuses_is_said_at_once(sizing: Phone) -> None:
    """Ten metres are taken; so many sheets are not, and who slipped by ten sees it in metres."""
    page = sizing.page
    set_paper(page, WORDS, "1000", "40")
    expect(page.locator(".reading")).to_have_text(WORDS("paper.large", size="10 × 0.4 m"))
    set_paper(page, WORDS, "1000", "1000")
    sizing.expected = ("400", "422")
    expect(page.locator(".reading")).to_have_text(WORDS("problem.too-many-sheets"))
    go_on(page, WORDS, "paper")
    expect(side(page)).to_be_focused()
    side(page).fill("1001")
    expect(page.locator(".reading")).to_have_text(
        WORDS("paper.outside", least="2 cm", most="1000 cm")
    )


def test_a_name_of_the_trade_is_a_size(sizing: Phone) -> None:
    """ISO 216: A3 is 297 × 420 mm; a sheet called imperial is 22 × 30 in (common practice)."""
    page, width = sizing.page, side(sizing.page)
    named = {"din a 3": (420, 297), "Impérial": (762, 558.8), "50x70 cm": (500, 700)}
    for name, size in named.items():
        width.fill(name)
        width.blur()
        assert sides(sizing) == pytest.approx(size)
    expect(page.get_by_label(WORDS("paper.named"))).to_have_value("50x70cm")


def test_a_fraction_without_a_unit_asks_which(sizing: Phone) -> None:
    page, width = sizing.page, side(sizing.page)
    width.fill("22 1/2")
    expect(page.locator(".reading")).to_contain_text(WORDS("paper.which-unit", text="22 1/2"))
    assert sides(sizing) == (600, 400)
    page.get_by_role("button", name=WORDS("unit.in"), exact=True).click()
    # ISO 80000-3: an inch is 25.4 mm.
    assert sides(sizing) == pytest.approx((571.5, 400))
    expect(side(page)).to_have_value("22 1/2")


def test_the_paper_can_have_the_photos_own_proportion(sizing: Phone) -> None:
    page = sizing.page
    page.get_by_text(WORDS("paper.as-photo"), exact=True).click()
    # The portrait of the tests is square.
    assert sides(sizing) == (600, 600)
    longest = side(page, "longest")
    longest.fill("80")
    longest.blur()
    assert sides(sizing) == (800, 800)
    page.get_by_text(WORDS("paper.fixed"), exact=True).click()
    set_paper(page, WORDS, "40", "30")
    assert sides(sizing) == (400, 300)


def test_one_sheet_has_no_seams_to_tell_of(phone: Phone, photo: Path) -> None:
    page = at_sheets(phone, photo, ("12", "10")).page
    expect(page.locator(".outcome-line")).to_contain_text("1 sheet of")
    page.locator(".outcome-sum summary").click()
    facts = page.locator(".outcome-figures .facts")
    expect(facts.locator("dd").first).to_have_text(WORDS("sheets.shape-one"))
    expect(facts.locator("dt", has_text=WORDS("sheets.tape"))).to_have_count(0)


def test_a_mural_is_named_along_its_edges(phone: Phone, photo: Path) -> None:
    """A hundred labels would hide on a phone what they name: each row and column has one."""
    page = at_sheets(phone, photo, ("300", "200")).page
    labels = page.locator(".plan-board .label")
    line = page.locator(".outcome-line").text_content() or "0"
    assert int(line.split()[0]) > 100
    names = labels.all_text_contents()
    assert names[:3] == ["·1", "·2", "·3"]
    assert names[-1] == "10·"
    assert len(names) < 25


def test_paper_and_frame_go_on_without_a_network(phone: Phone, photo: Path) -> None:
    """They say so, keep the photo, and count anew once it is back."""
    phone.expected = ("ERR_INTERNET_DISCONNECTED",)
    choose_photo(phone.open(), photo, WORDS)
    page = phone.page
    for step, figures in (("paper", ".outcome .figure"), ("frame", ".sharpness summary")):
        phone.open(step)
        page.locator(figures).filter(has_text=re.compile(r"\S")).wait_for()
        page.wait_for_load_state("networkidle")
        phone.context.set_offline(True)
        page.get_by_text(WORDS("sheets.offline")).first.wait_for()
        if step == "paper":
            set_paper(page, WORDS, "50", "40")
        else:
            page.get_by_role("button", name=WORDS("frame.closer")).click()
        expect(page.locator(".not-loaded")).to_have_count(0)
        with page.expect_response("**/v1/plans") as planned:
            phone.context.set_offline(False)
        assert planned.value.ok
        expect(page.locator(".bench-sum")).not_to_contain_text(WORDS("sheets.offline"))
    assert phone.state()["paper"]["widthMm"] == 500
