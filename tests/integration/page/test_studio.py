"""At the easel: steps are ticked off, and what was measured is judged in plain words."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo

WORDS = Words()


@pytest.fixture
def easel(phone: Phone, photo: Path) -> Phone:
    """A phone at the easel, with a pack that is ready."""
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("pack")
    page.get_by_role("button", name=WORDS("pack.make")).click()
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()
    phone.open("studio")
    page.get_by_role("checkbox").first.wait_for()
    return phone


def test_what_is_ticked_stays_ticked(easel: Phone) -> None:
    page = easel.page
    boxes = page.get_by_role("checkbox")
    before = boxes.count()
    # By the label, as a thumb does it: the box itself is small.
    page.locator(".tick label").nth(0).tap()
    boxes.nth(2).focus()
    page.keyboard.press("Space")
    page.reload()
    boxes.first.wait_for()
    assert boxes.count() == before
    assert [boxes.nth(number).is_checked() for number in range(4)] == [True, False, True, False]
    page.get_by_role("button", name=WORDS("studio.start-over")).click()
    assert not boxes.first.is_checked()


def test_a_sheet_that_is_short_becomes_the_next_packs_correction(easel: Phone) -> None:
    """README, "Printing, in short": what it should be divided by what was measured.

    600 × 400 mm lies on its side: half the height is 200 mm across the page.
    """
    page = easel.page
    # A six-hundredth of it may be off, as on map and guide.
    page.get_by_text("200\u00a0mm ± 0.3\u00a0mm").wait_for()
    page.get_by_label(WORDS("studio.bar.across")).fill("198")
    down = page.get_by_label(WORDS("studio.bar.down"))
    down.fill("12 km")
    assert page.locator(".verdict.wrong").count() == 2
    down.fill("")
    page.get_by_role("button", name=WORDS("studio.bar.apply")).click()
    # Nothing else was changed since, and so it is said.
    page.get_by_role("alert").get_by_text(WORDS("studio.bar.applied")).wait_for(state="attached")
    make = page.get_by_role("button", name=WORDS("pack.make-again"))
    make.wait_for()
    # What will be made stands above what was made, and has the one primary button.
    name = page.get_by_label(WORDS("pack.name")).bounding_box()
    made = page.get_by_role("link", name=WORDS("pack.download")).bounding_box()
    assert name is not None
    assert made is not None
    assert name["y"] < made["y"]
    assert page.locator(".button.primary").count() == 1
    with page.expect_request("**/v1/packs") as asked:
        make.click()
    spec = asked.value.post_data_json["spec"]
    assert spec["print"]["across_correction"] == pytest.approx(200 / 198, abs=1e-4)
    assert spec["print"]["down_correction"] == 1
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()


def test_page_fitting_is_found_out(easel: Phone) -> None:
    page = easel.page
    page.get_by_label(WORDS("studio.bar.across")).fill("191")
    fitted = WORDS("studio.bar.fitted").split("%: ")[1]
    page.get_by_role("main").get_by_text(fitted).wait_for()
    assert page.get_by_role("button", name=WORDS("studio.bar.apply")).count() == 0


def test_lengths_that_are_off_say_which_way(easel: Phone) -> None:
    page = easel.page
    width = page.get_by_label(WORDS("studio.length.width"), exact=True)
    width.fill("603")
    page.get_by_role("main").get_by_text(WORDS("studio.length.long").split("} ")[1]).wait_for()
    width.fill("600.5")
    page.locator(".verdict.fine").wait_for()
    # A picture of 600 × 400 mm whose top has been pushed 4 mm to the right (Pythagoras).
    lengths: dict[str, Any] = {
        "diagonal": math.hypot(596, 400),
        "other diagonal": math.hypot(604, 400),
    }
    for name, length_mm in lengths.items():
        page.get_by_label(WORDS(f"studio.length.{name}"), exact=True).fill(f"{length_mm:.1f}")
    leans = page.locator(".verdict", has_text=WORDS("studio.length.leans").split("{toward}")[0])
    assert WORDS("studio.length.right") in (leans.text_content() or "")
