"""Faces on the page: the frame keeps heads whole, and the offer is taken, or declined for good."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from client.web import FOLDER
from tests.integration.page.conftest import Phone, at_sheets, uploaded
from tests.integration.page.steps import Words, open_tool, tab_to
from tests.integration.page.test_barriers import AXE, barriers, small_targets, too_wide
from tests.integration.service.conftest import Running, start
from tests.pictures.planted_faces import plant, planted_face

WORDS = Words()
#: The astronaut's face in that photograph (NASA, public domain), as anyone sees it, and one more.
SITTER = planted_face(0.43, 0.22, 0.2, 0.24)
OTHER = planted_face(0.75, 0.3, 0.12)


#: As another file, which no other test sends: a comment segment (ITU-T T.81, B.2.4.5).
ONE, TWO = b"one", b"two"


def as_another_file(photo: bytes, comment: bytes) -> bytes:
    return photo[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + photo[2:]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory, portrait: bytes) -> Iterator[Running]:
    """A service that has the portrait with one face in it, and again with two."""
    folder = tmp_path_factory.mktemp("faces")
    first = start(folder, PAGE_DIR=FOLDER, WORKERS=1)
    ids = [uploaded(first, as_another_file(portrait, each))["id"] for each in (ONE, TWO)]
    assert first.stop() == 0
    plant(first.data_dir, ids[0], SITTER)
    plant(first.data_dir, ids[1], SITTER, OTHER)
    # What it had in memory went with it.
    service = start(folder, PAGE_DIR=FOLDER, WORKERS=1)
    yield service
    assert service.stop() == 0


@pytest.fixture
def one_face(portrait: bytes, tmp_path: Path) -> Path:
    path = tmp_path / "one.jpg"
    path.write_bytes(as_another_file(portrait, ONE))
    return path


@pytest.fixture
def two_faces(portrait: bytes, tmp_path: Path) -> Path:
    path = tmp_path / "two.jpg"
    path.write_bytes(as_another_file(portrait, TWO))
    return path


def last_spec(phone: Phone, act: Callable[[], None]) -> Any:
    """The spec that an act leads to."""
    with phone.page.expect_request("**/v1/plans") as asked:
        act()
    return asked.value.post_data_json["spec"]


def test_a_face_is_offered_taken_shown_and_taken_away_again(
    phone_at: Callable[..., Phone], service: Running, one_face: Path
) -> None:
    phone = at_sheets(phone_at(service), one_face)
    page = phone.page
    offer = page.get_by_role("group", name="Keep seams off")
    assert page.locator(".areas .area").count() == 0
    assert phone.state()["sheets"]["protect"] == []
    # By keys alone.
    button = offer.get_by_role("button", name=WORDS("sheets.faces.take"), exact=True)
    tab_to(page, button)
    spec = last_spec(phone, lambda: page.keyboard.press("Enter"))
    count = len(spec["seams"]["protect"])
    assert count in {1, 2}
    expect(page.locator(".areas .area")).to_have_count(count)
    expect(offer).to_have_count(0)
    expect(page.locator('.tool[data-tool="protect"]')).to_be_focused()
    # They are areas like any other, and go with a tap; the offer does not come back.
    for left in range(count - 1, -1, -1):
        page.locator(".areas .area").first.press("Delete")
        expect(page.locator(".areas .area")).to_have_count(left)
    page.wait_for_load_state("networkidle")
    expect(offer).to_have_count(0)


@pytest.mark.parametrize("language", ["en", "it"])
def test_no_thanks_is_for_good(
    phone_at: Callable[..., Phone],
    service: Running,
    two_faces: Path,
    language: str,
) -> None:
    words = Words(language)
    locale = {"en": "en-GB", "it": "it-IT"}[language]
    phone = phone_at(service, locale=locale)
    phone.open()
    phone.page.get_by_label(words("photo.file")).set_input_files(two_faces)
    phone.page.get_by_role("link", name=words("photo.next")).wait_for()
    phone.open("sheets")
    page = phone.page
    asks = {"en": "Keep seams off", "it": "Nessuna giuntura su"}[language]
    offer = page.get_by_role("group", name=asks)
    offer.get_by_role("button", name=words("sheets.faces.decline")).tap()
    expect(offer).to_have_count(0)
    assert phone.state()["sheets"]["protect"] == []
    page.reload()
    page.locator(".plan-board .label").first.wait_for()
    page.wait_for_load_state("networkidle")
    expect(page.locator(".face-question")).to_have_count(0)


def test_the_default_frame_keeps_the_head_whole(
    phone_at: Callable[..., Phone], service: Running, one_face: Path
) -> None:
    """60 × 40 cm take two thirds of a square photo: from its sixth down, which cuts this head."""
    phone = at_sheets(phone_at(service), one_face)
    page = phone.page
    page.wait_for_function(
        "JSON.parse(localStorage.getItem('ricalco.state.1') ?? '{}').faces?.found.length === 1"
    )
    phone.open("frame")
    open_tool(page, "place")
    top = page.get_by_label(WORDS("frame.top"), exact=True)
    expect(top).to_have_value("0")
    spec = last_spec(phone, lambda: page.get_by_role("button", name=WORDS("frame.closer")).click())
    assert spec["crop"]["top"] > 0
    page.get_by_role("button", name=WORDS("frame.reset")).click()
    expect(top).to_have_value("0")
    assert SITTER.head.top < 1 / 6


def test_the_offer_is_no_barrier(
    phone_at: Callable[..., Phone], service: Running, two_faces: Path
) -> None:
    phone = at_sheets(phone_at(service), two_faces)
    page = phone.page
    page.locator(".face-question").wait_for()
    page.wait_for_load_state("networkidle")
    assert barriers(page, AXE.read_text(encoding="utf-8")) == []
    assert small_targets(page) == []
    assert too_wide(page) <= 0
