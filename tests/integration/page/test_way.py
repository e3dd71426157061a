"""The whole way, from a photo on the phone to a pack in hand: by thumb, and by keys alone.

Each way is gone at another size and in another light, and one looks at all of them.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from playwright.sync_api import Locator, Page

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, go_on, heading, set_paper, tab_to
from tests.integration.page.test_barriers import STEPS, small_targets, too_wide
from tests.integration.service.conftest import Running

WORDS = Words()
#: The portrait on 40 × 30 cm: four A4 sheets, as `ricalco plan` says too.
PAPER = ("40", "30")
POINTS_PER_MM = 72 / 25.4


def downloaded(page: Page, link: Locator, folder: Path) -> Path:
    """What a tap on a link brings."""
    with page.expect_download() as coming:
        link.press("Enter")
    path = folder / coming.value.suggested_filename
    coming.value.save_as(path)
    return path


def pages_of(pack: Path) -> int:
    """Pages of a pack that is whole, each of them upright A4 (ISO 216)."""
    with pikepdf.open(pack) as pdf:
        assert pdf.check_pdf_syntax() == []
        for page in pdf.pages:
            sides = [float(side) / POINTS_PER_MM for side in page.mediabox[2:]]
            assert sides == pytest.approx([210, 297], abs=0.1)
        return len(pdf.pages)


#: From a photo to a pack with what is set already.
MOST_TAPS = 7
#: A small phone, a phone, a tablet and a desk.
SIZES = ((360, 640), (390, 844), (820, 1180), (1280, 800))


def test_from_photo_to_pack_in_seven_taps(
    phone_at: Callable[..., Phone], running: Running, photo: Path, tmp_path: Path
) -> None:
    """A first visit on a small phone, with nothing changed; and what is done is ticked."""
    page = phone_at(running, viewport=sized(360, 640), color_scheme="dark").open()
    heading(page, WORDS("photo.title")).wait_for()
    with page.expect_file_chooser() as chooser:
        page.locator(".photo-begin .picker").first.tap()
    chooser.value.set_files(photo)
    taps = 1
    for step, then in (
        ("photo", "paper"),
        ("paper", "frame"),
        ("frame", "sheets"),
        ("sheets", "pack"),
    ):
        page.get_by_role("link", name=WORDS(f"{step}.next")).tap()
        taps += 1
        heading(page, WORDS(f"{then}.title")).wait_for()
    page.get_by_role("button", name=WORDS("pack.make")).tap()
    link = page.get_by_role("link", name=WORDS("pack.download"))
    link.wait_for()
    with page.expect_download() as coming:
        link.tap()
    taps += 2
    coming.value.save_as(tmp_path / "pack.pdf")
    assert taps <= MOST_TAPS
    assert pages_of(tmp_path / "pack.pdf") > 1
    here = page.get_by_role("navigation", name=WORDS("app.steps")).locator("button")
    here.tap()
    ticked = page.locator(".steps a:visible", has=page.locator(".step-tick"))
    assert ticked.count() == len(("photo", "paper", "frame", "sheets"))
    page.keyboard.press("Escape")
    assert here.get_attribute("aria-expanded") == "false"


def test_from_photo_to_pack_with_a_thumb(
    phone_at: Callable[..., Phone], running: Running, photo: Path, tmp_path: Path
) -> None:
    """A tablet, and a size and a title of one's own; then at all sizes what was on the way."""
    phone = phone_at(running, viewport=sized(820, 1180))
    page = phone.open()
    heading(page, WORDS("photo.title")).wait_for()
    choose_photo(page, photo, WORDS)
    go_on(page, WORDS, "photo")
    heading(page, WORDS("paper.title")).wait_for()
    set_paper(page, WORDS, *PAPER)
    go_on(page, WORDS, "paper")
    heading(page, WORDS("frame.title")).wait_for()
    page.get_by_role("button", name=WORDS("frame.closer")).tap()
    go_on(page, WORDS, "frame")
    heading(page, WORDS("sheets.title")).wait_for()
    page.locator(".plan-board .label").first.wait_for()
    count = int((page.locator(".outcome-line").text_content() or "0").split()[0])
    go_on(page, WORDS, "sheets")
    heading(page, WORDS("pack.title")).wait_for()
    page.get_by_label(WORDS("pack.name")).fill("Portrait, évora 静")
    page.get_by_role("button", name=WORDS("pack.make")).tap()
    link = page.get_by_role("link", name=WORDS("pack.download"))
    link.wait_for()
    # There is nothing more to be asked for.
    assert page.get_by_label(WORDS("pack.name")).count() == 0
    pack = downloaded(page, link, tmp_path)
    # One map and two pages of guide stand before the sheets.
    assert pages_of(pack) == count + 3
    assert pack.suffix == ".pdf"
    assert page.get_by_role("img", name=WORDS("pack.map")).evaluate(
        "(image) => image.decode().then(() => image.naturalWidth > 500)"
    )
    sheets = page.get_by_role("img", name=WORDS("pack.sheet-alt", label="1·1"))
    assert sheets.count() == 1
    # One of them alone, for a reprint.
    sheets.tap()
    again = page.get_by_role("link", name=WORDS("pack.reprint-go", label="1·1"))
    answer = page.request.get(again.evaluate("(a) => a.href"))
    with pikepdf.open(io.BytesIO(answer.body())) as pdf:
        assert len(pdf.pages) == 1
    assert {where: what for where, what in misfits(phone) if what} == {}


def test_from_photo_to_pack_by_keys_alone(
    phone_at: Callable[..., Phone], running: Running, photo: Path, tmp_path: Path
) -> None:
    """No pointer is used from here on: Tab, Shift, Enter, Space, arrows and letters."""
    phone = phone_at(
        running, viewport=sized(1280, 800), is_mobile=False, has_touch=False, color_scheme="dark"
    )
    page, keys = phone.open(), phone.page.keyboard
    tab_to(page, page.get_by_label(WORDS("photo.file")))
    with page.expect_file_chooser() as chooser:
        keys.press("Space")
    chooser.value.set_files(photo)
    forward(page, "photo", "paper")
    opened_by_keys(page, "size")
    field = page.get_by_label(WORDS("paper.width"), exact=True)
    tab_to(page, field)
    keys.press("Control+a")
    keys.type(f"{PAPER[0]} x {PAPER[1]}")
    keys.press("Tab")
    page.locator(".outcome .figure").wait_for()
    forward(page, "paper", "frame")
    tab_to(page, page.get_by_role("application", name=WORDS("frame.easel")))
    for key in ("+", "+", "ArrowLeft", "ArrowDown"):
        keys.press(key)
    forward(page, "frame", "sheets")
    page.locator(".plan-board .label").first.wait_for()
    opened_by_keys(page, "protect")
    tab_to(page, page.get_by_role("button", name=WORDS("sheets.protect.middle")))
    keys.press("Enter")
    page.locator("g.area").wait_for()
    # A choice is a group of radio buttons: reached once, changed by arrows.
    opened_by_keys(page, "seams")
    tab_to(page, page.locator("input[name=placement]:checked"))
    keys.press("ArrowRight")
    assert page.locator("input[name=placement]:checked").get_attribute("value") == "even"
    forward(page, "sheets", "pack")
    tab_to(page, page.get_by_role("button", name=WORDS("pack.make")))
    keys.press("Enter")
    link = page.get_by_role("link", name=WORDS("pack.download"))
    link.wait_for()
    tab_to(page, link)
    assert pages_of(downloaded(page, link, tmp_path)) >= 4


def sized(width: int, height: int) -> dict[str, int]:
    """A size of the window."""
    return {"width": width, "height": height}


#: The button that goes on: whether it is whole on the screen, with nothing over it.
GOES_ON = """() => {
  const button = [...document.querySelectorAll(".plate-foot .button, .studio-foot .button")]
    .filter((one) => one.checkVisibility()).at(-1);
  const box = button.getBoundingClientRect();
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  return box.top >= 0 && box.bottom <= innerHeight && button.contains(top);
}"""


def misfits(phone: Phone) -> Iterator[tuple[Any, list[Any]]]:
    """What is wrong with each screen of the way, at each size and in each light."""
    page = phone.page
    for step in STEPS:
        phone.open(step)
        page.get_by_role("heading", level=1).wait_for()
        page.wait_for_load_state("networkidle")
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            for theme in ("light", "dark"):
                page.emulate_media(color_scheme=theme)
                page.evaluate("() => new Promise(requestAnimationFrame)")
                found = [*small_targets(page)]
                found += ["too wide"] if too_wide(page) > 0 else []
                found += [] if page.evaluate(GOES_ON) else ["the button that goes on is covered"]
                yield (step, width, theme), found


def opened_by_keys(page: Page, tool: str) -> None:
    """Open a tool's panel; on a desk the first one is open already."""
    one = page.locator(f'.tool[data-tool="{tool}"]')
    tab_to(page, one)
    if one.get_attribute("aria-expanded") == "false":
        page.keyboard.press("Enter")


def forward(page: Page, step: str, then: str) -> None:
    """Go on to the next step by keys; its heading has the focus then."""
    link = page.get_by_role("link", name=WORDS(f"{step}.next"))
    link.wait_for()
    tab_to(page, link)
    page.keyboard.press("Enter")
    top = heading(page, WORDS(f"{then}.title"))
    top.wait_for()
    assert top.evaluate("(element) => element === document.activeElement")
