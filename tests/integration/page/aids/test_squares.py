"""Drawing by squares, without sheets: where ticks go, and one square after the other."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Locator, Page, expect

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo
from tests.integration.page.test_barriers import AXE, barriers, small_targets
from tests.integration.service.conftest import Running
from worker.layout.grid import square_grid
from worker.pages.grid.support import ticks
from worker.spec.plan import Size

WORDS = Words()


@pytest.fixture
def squares(phone: Phone, photo: Path) -> Phone:
    """A phone before the picture under its grid, with squares of 7.5 cm on 60 × 40 cm."""
    choose_photo(phone.open(), photo, WORDS)
    return at_squares(phone)


def at_squares(phone: Phone) -> Phone:
    phone.open("paper")
    page = phone.page
    tool(page, "size").click()
    page.get_by_role("link", name=WORDS("paper.by-squares")).click()
    page.locator(".squares-box.there").wait_for()
    tool(page, "size").click()
    side = page.get_by_label(WORDS("squares.square"), exact=True)
    side.fill("7,5")
    side.press("Enter")
    expect(page.locator(".bench-sum")).to_contain_text("8 × 6")
    return phone


def tool(page: Page, name: str) -> Locator:
    """A tool under the picture."""
    return page.locator(f"[data-tool={name}]")


def name(page: Page) -> Locator:
    """The label of the square that is shown."""
    return page.locator(".square-name")


def test_ticks_are_those_of_the_printed_page(squares: Phone, tmp_path: Path) -> None:
    page = squares.page
    tool(page, "ticks").tap()
    right = square_grid(Size(600, 400), 75)
    for number, (edges, letters) in enumerate(((right.columns_mm, True), (right.rows_mm, False))):
        table = page.locator(".ticks").nth(number)
        named = table.locator("th").all_text_contents()
        told = [float(text.split()[0]) * 10 for text in table.locator("td").all_text_contents()]
        expected = ticks(edges, 0.0, letters=letters)
        assert named == [tick.name for tick in expected]
        assert told == pytest.approx([tick.place_mm for tick in expected])
    tool(page, "print").tap()
    with page.expect_download() as coming:
        page.get_by_role("button", name=WORDS("bysquares.get")).tap()
    coming.value.save_as(tmp_path / "grid.pdf")
    with pypdfium2.PdfDocument(tmp_path / "grid.pdf") as pdf:
        assert len(pdf) == 2


def test_one_square_fills_the_screen_with_the_right_part(squares: Phone) -> None:
    page = squares.page
    box = page.locator(".squares-box").bounding_box()
    assert box is not None
    # The third column and the fourth row, on 60 × 40 cm in squares of 7.5 cm.
    at = {"x": box["width"] * 2.5 * 75 / 600, "y": box["height"] * 3.5 * 75 / 400}
    page.locator(".squares-box").tap(position=at)
    expect(name(page)).to_have_text("c4")
    beside = page.locator(".square-edge:visible").all_text_contents()
    assert sorted(beside) == ["b4", "c3", "c5", "d4"]
    place = page.locator(".square-frame").get_attribute("d") or ""
    left, top, wide, high, _ = (float(one) for one in re.findall(r"-?[\d.]+", place))
    assert wide == pytest.approx(high)
    assert wide > 0.7 * 390
    stand, picture = (page.locator(f".square-{part}") for part in ("one", "port img"))
    outer, inner = stand.bounding_box(), picture.bounding_box()
    assert outer is not None
    assert inner is not None
    scale = wide / 75
    assert inner["width"] == pytest.approx(600 * scale, abs=0.5)
    assert inner["x"] + 2 * wide == pytest.approx(outer["x"] + left, abs=0.5)
    assert inner["y"] + 3 * wide == pytest.approx(outer["y"] + top, abs=0.5)
    # A finger to the left brings what is at the right; arrow keys and labels do the same.
    middle = outer["x"] + outer["width"] / 2, outer["y"] + outer["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] - 90, middle[1] + 8)
    page.mouse.up()
    expect(name(page)).to_have_text("d4")
    page.locator(".studio-next").focus()
    page.keyboard.press("ArrowUp")
    expect(name(page)).to_have_text("d3")
    page.get_by_role("button", name=WORDS("bysquares.go", name="c3")).tap()
    expect(name(page)).to_have_text("c3")
    few = page.locator(".quarter-line").get_attribute("d") or ""
    page.get_by_role("button", name=WORDS("bysquares.quarters")).tap()
    assert page.locator(".quarter-line").get_attribute("d") != few


def test_what_is_drawn_stays_drawn_also_without_a_network(
    phone_at: Callable[..., Phone], service_to_stop: Running, photo: Path
) -> None:
    """The service itself is stopped, so that nothing can come from anywhere but the phone."""
    phone = phone_at(service_to_stop)
    axe = AXE.read_text(encoding="utf-8")
    phone.expected = ("ERR_", "Failed to load resource", "Failed to fetch")
    page = phone.page
    choose_photo(phone.open(), photo, WORDS)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    at_squares(phone)
    assert barriers(page, axe) == []
    assert small_targets(page) == []
    page.get_by_role("button", name=WORDS("bysquares.begin")).tap()
    for square in ("a1", "b1"):
        expect(name(page)).to_have_text(square)
        page.get_by_role("button", name=WORDS("bysquares.drawn")).tap()
    assert barriers(page, axe) == []
    assert small_targets(page) == []
    kept = (
        "caches.open('ricalco-packs').then((cache) => cache.match('/kept/grid.json')).then(Boolean)"
    )
    assert page.evaluate(kept)
    phone.state()
    assert service_to_stop.stop() == 0
    page.goto("about:blank")
    phone.open("squares")
    page.locator(".squares-box.there").wait_for()
    expect(page.locator(".square-drawn")).to_have_count(2)
    page.get_by_role("button", name=WORDS("bysquares.begin")).tap()
    expect(name(page)).to_have_text("c1")
    image = page.locator(".square-port img")
    assert image.evaluate("(image) => image.decode().then(() => image.naturalWidth > 100)")
