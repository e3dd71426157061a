"""My pictures: several in work at once, deleting with undo, lost sheets by their numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
from playwright.sync_api import Locator, Page, Request

from client.web import FOLDER
from tests.integration.page.conftest import Phone, uploaded
from tests.integration.page.steps import Words, heading
from tests.integration.service.conftest import Running, start
from tests.waiting import wait_until

WORDS = Words()
SPEC = {
    "support": {"width_mm": 240, "height_mm": 180},
    "crop": {"left": 0.1, "top": 0.2, "width": 0.8, "height": 0.6},
    "tone": {"style": "outline"},
}


@dataclass
class Atelier:
    """One person's own service with a photo and a pack that is ready."""

    service: Running
    reference: dict[str, Any]
    pack: dict[str, Any]

    def packs(self) -> list[dict[str, Any]]:
        """The packs that the service has."""
        answer = requests.get(f"{self.service.url}/v1/me/packs", timeout=60)
        return list(answer.json()["items"])

    def make(self, title: str) -> dict[str, Any]:
        """Another pack, ready."""
        wish = {"reference_id": self.reference["id"], "spec": SPEC, "title": title}
        url = self.service.url
        path = requests.post(f"{url}/v1/packs", json=wish, timeout=60).json()["links"]["self"]
        wait_until(lambda: requests.get(url + path, timeout=60).json()["state"] == "ready", 120)
        return dict(requests.get(url + path, timeout=60).json())


@pytest.fixture(scope="module")
def atelier(tmp_path_factory: pytest.TempPathFactory, portrait: bytes) -> Iterator[Atelier]:
    service = start(tmp_path_factory.mktemp("atelier"), PAGE_DIR=FOLDER, WORKERS=1)
    made = Atelier(service, uploaded(service, portrait), {})
    made.pack = made.make("Anna")
    yield made
    assert service.stop() == 0


@pytest.fixture
def window(phone_at: Callable[..., Phone], atelier: Atelier) -> Phone:
    return phone_at(atelier.service)


def card(page: Page, title: str) -> Locator:
    """The card of a picture."""
    return page.locator(".shelf-card").filter(has=page.get_by_role("heading", name=title))


def choose(page: Page, title: str, action: str) -> None:
    """Something of the menu of a card."""
    card(page, title).get_by_role("button", name=WORDS("shelf.more", title=title)).click()
    page.get_by_role("dialog").get_by_role("button", name=WORDS(action), exact=True).click()


def deletions(page: Page) -> list[str]:
    """The requests to delete something that the page sends from now on."""
    sent: list[str] = []

    def note(request: Request) -> None:
        if request.method == "DELETE":
            sent.append(request.url)

    page.context.on("request", note)
    return sent


def test_whoever_has_none_begins_with_the_photo(
    phone_at: Callable[..., Phone], own_service: Running
) -> None:
    page = phone_at(own_service).open("")
    heading(page, WORDS("photo.title")).wait_for()
    assert page.locator(".shelf-card").count() == 0


def test_a_pack_made_elsewhere_is_taken_up_again(window: Phone, atelier: Atelier) -> None:
    """On another device it is the first screen, and its job goes on as its spec says."""
    page = window.open("")
    heading(page, WORDS("common.shelf")).wait_for()
    assert (
        card(page, "Anna")
        .locator("img")
        .evaluate("(one) => one.decode().then(() => one.naturalWidth)")
        > 0
    )
    card(page, "Anna").get_by_role("button", name=WORDS("shelf.open")).click()
    heading(page, WORDS("pack.title")).wait_for()
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()
    # Nothing of it has changed, so it is not offered to be made again.
    assert page.get_by_role("button", name=WORDS("pack.make-again")).count() == 0
    state = window.state()
    assert state["photo"]["referenceId"] == atelier.reference["id"]
    assert (state["paper"]["widthMm"], state["sheets"]["style"]) == (240, "outline")
    assert state["frame"] == {"cx": 0.5, "cy": 0.5, "width": 0.8, "rotateDeg": 0}


def test_switching_loses_nothing_of_either(window: Phone, photo: Path, tmp_path: Path) -> None:
    """A second photo is a second picture, with the paper of the first and nothing else of it."""
    page = window.open("shelf")
    choose(page, "Anna", "shelf.same")
    heading(page, WORDS("sheets.title")).wait_for()
    first = window.state()
    assert (first["pack"], first["title"], first["sheets"]["style"]) == (None, "Anna", "outline")
    page.goto(f"{window.service.url}/#photo")
    other = tmp_path / "other.jpg"
    # The same picture in other bytes: what follows the end of a JPEG is not read.
    other.write_bytes(photo.read_bytes() + b"\n")
    page.get_by_label(WORDS("photo.other")).set_input_files(other)
    page.get_by_text(WORDS("photo.sent")).first.wait_for()
    second = window.state()
    assert (second["title"], second["pack"], second["sheets"]["style"]) == ("", None, "grey")
    assert second["paper"]["widthMm"] in {240, 180}
    page.goto(f"{window.service.url}/#shelf")
    cards = page.locator(".shelf-card")
    cards.nth(2).wait_for()
    card(page, "Anna").first.get_by_role("button", name=WORDS("shelf.continue")).click()
    heading(page, WORDS("sheets.title")).wait_for()
    again = window.state()
    for part in ("photo", "paper", "frame", "title", "pictureId"):
        assert again[part] == first[part], part
    assert again["sheets"]["style"] == "outline"
    assert list(again["pictures"]) == [second["pictureId"]]


def test_what_is_deleted_comes_back_for_ten_seconds_and_goes_once(
    window: Phone, atelier: Atelier
) -> None:
    kept = atelier.make("Kept")
    page = window.open("shelf")
    page.clock.install()
    sent = deletions(page)
    choose(page, "Kept", "shelf.delete")
    card(page, "Kept").wait_for(state="detached")
    undo = page.locator(".undo-bar").get_by_role("button")
    assert undo.evaluate("(element) => element === document.activeElement")
    assert WORDS("undo.hint") in (page.locator("#polite").text_content() or "")
    undo.click()
    card(page, "Kept").wait_for()
    page.clock.run_for(12_000)
    assert sent == []
    choose(page, "Kept", "shelf.delete")
    with page.expect_request(lambda request: request.method == "DELETE"):
        page.clock.run_for(12_000)
    wait_until(lambda: kept["id"] not in {one["id"] for one in atelier.packs()})
    page.locator(".undo-bar").wait_for(state="detached")
    assert len(sent) == 1
    # Other packs are made from its photo, so that stays.
    answer = requests.get(
        f"{atelier.service.url}/v1/references/{atelier.reference['id']}", timeout=60
    )
    assert answer.status_code == 200


def test_leaving_the_page_sends_what_was_deleted(window: Phone, atelier: Atelier) -> None:
    left = atelier.make("Left")
    page = window.open("shelf")
    choose(page, "Left", "shelf.delete")
    card(page, "Left").wait_for(state="detached")
    page.goto("about:blank")
    wait_until(lambda: left["id"] not in {one["id"] for one in atelier.packs()})


def test_a_lost_sheet_is_found_by_the_numbers_on_paper(window: Phone, atelier: Atelier) -> None:
    page = window.open("shelf")
    page.get_by_role("button", name=WORDS("shelf.lost")).click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label(WORDS("shelf.pack-number")).fill(
        atelier.pack["number"].lower().replace("-", " ")
    )
    sheet = dialog.get_by_label(WORDS("shelf.sheet-number"))
    sheet.fill("9 9")
    sheet.press("Enter")
    dialog.locator(".note.wrong").wait_for()
    label = atelier.pack["files"]["sheets"][0]
    sheet.fill(label["label"].replace("·", "-"))
    sheet.press("Enter")
    link = dialog.get_by_role("link")
    link.wait_for()
    assert link.get_attribute("href") == label["pdf"]


def test_without_a_network_what_was_opened_is_there(window: Phone) -> None:
    window.expected = ("ERR_", "Failed to load resource", "Service Worker")
    page = window.open("shelf")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    card(page, "Anna").first.get_by_role("button", name=WORDS("shelf.open")).click()
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()
    page.evaluate(
        "caches.open('ricalco-packs').then((one) => one.keys()).then((all) => all.length)"
    )
    wait_until(
        lambda: (
            page.evaluate(
                "caches.open('ricalco-packs').then((one) => one.keys()).then((all) => all.length)"
            )
            >= 4
        )
    )
    window.context.set_offline(True)
    page.evaluate("location.hash = '#shelf'")
    page.get_by_text(WORDS("shelf.offline")).wait_for()
    card(page, "Anna").first.wait_for()


#: Buttons that are smaller than a finger needs.
SMALL = """(all) => all.map((one) => one.getBoundingClientRect())
  .filter(({ height, width }) => height < 44 || width < 44).length"""


def test_cards_keep_to_the_screen(phone_at: Callable[..., Phone], atelier: Atelier) -> None:
    """Also with the longest labels, in German; a title that is one long word breaks."""
    page = phone_at(atelier.service, locale="de-DE").open("shelf")
    title = page.locator(".shelf-title").first
    title.wait_for()
    title.evaluate("(one) => { one.textContent = 'Donaudampfschifffahrt'.repeat(5) }")
    for width, height in ((360, 640), (390, 844), (820, 1180), (1280, 800)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
        buttons = page.locator(".shelf-acts button, .shelf-head button:visible")
        assert buttons.evaluate_all(SMALL) == 0, width
