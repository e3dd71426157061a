"""What saves sheets is offered on the page, and taken with one tap."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import expect

from tests.integration.page.conftest import Phone, at_sheets
from tests.integration.page.steps import open_tool


def test_fewer_sheets_take_one_tap(phone: Phone, photo: Path) -> None:
    """60.4 × 40.4 cm on A4 take eight; a side that is four millimetres shorter takes six."""
    at_sheets(phone, photo, ("60.4", "40.4"))
    page = phone.page
    line = page.locator(".outcome-line")
    expect(line).to_contain_text("8 sheets")
    open_tool(page, "formats")
    offers = page.locator(".fewer .button")
    # The printer's own margins are 5 mm; of 4 mm they carry 202 × 275.
    expect(offers).to_have_count(3)
    shorter = offers.filter(has_text="wide")
    expect(shorter).to_have_text("60\u00a0cm wide, not 60.4\u00a0cm: 6 sheets")
    shorter.tap()
    expect(line).to_contain_text("6 sheets")
    # What is left is another size of sheet.
    expect(offers).to_have_text(["A3: 4 sheets"])
