"""The photo: a line that drops, a photo that is there already, a file that is none."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
import requests
from PIL import Image
from playwright.sync_api import Locator, Page, Route

from tests.integration.page.conftest import Phone, uploaded
from tests.integration.page.line import Line
from tests.integration.page.steps import Words, choose_photo, heading, open_tool
from tests.integration.service.conftest import Running
from tests.waiting import wait_until

WORDS = Words()


def noise(seed: int, side_px: int = 900) -> bytes:
    """A photo of which no other has the bytes; it hardly gets smaller, so it takes a while."""
    random = np.random.default_rng(seed)
    pixels = random.integers(0, 255, (side_px, side_px, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=92)
    return file.getvalue()


def shown(page: Page, key: str) -> Locator:
    """A text on the screen, not the one that is only spoken."""
    return page.get_by_role("main").get_by_text(WORDS(key))


def kept(service: Running, content: bytes) -> int:
    """How many references of these bytes the service has."""
    digest = hashlib.sha256(content).hexdigest()
    answer = requests.get(f"{service.url}/v1/references?sha256={digest}", timeout=30)
    return len(answer.json()["items"])


@pytest.fixture
def line(running: Running) -> Iterator[Line]:
    """A line to the shared service."""
    line = Line(urlsplit(running.url).port or 0)
    yield line
    line.close()


def test_a_photo_that_did_not_get_through_takes_one_tap(
    line: Line, running: Running, phone_at: Callable[..., Phone], tmp_path: Path
) -> None:
    """Cut in the middle, as in a lift; then the same photo goes up once and is there once."""
    phone = phone_at(replace(running, url=line.url))
    phone.expected = ("ERR_", "Failed to load resource")
    photo = tmp_path / "cut.jpg"
    photo.write_bytes(noise(1))
    page = phone.open()
    line.cut_after = 200_000
    page.get_by_label(WORDS("photo.file")).set_input_files(photo)
    again = page.get_by_role("button", name=WORDS("photo.again"))
    again.wait_for()
    assert shown(page, "photo.dropped").is_visible()
    assert line.cuts > 0
    assert kept(running, photo.read_bytes()) == 0
    line.cut_after = None
    again.tap()
    page.get_by_role("link", name=WORDS("photo.next")).wait_for()
    assert kept(running, photo.read_bytes()) == 1


def test_an_answer_that_was_lost_does_not_make_two_photos(
    phone: Phone, running: Running, tmp_path: Path
) -> None:
    """The service took it in, and the line dropped before it could say so."""
    phone.expected = ("ERR_", "Failed to load resource")
    photo = tmp_path / "lost.jpg"
    photo.write_bytes(noise(2, 200))
    page = phone.open()

    def lose(route: Route) -> None:
        route.fetch()
        route.abort("connectionreset")

    page.route("**/v1/references", lose)
    page.get_by_label(WORDS("photo.file")).set_input_files(photo)
    again = page.get_by_role("button", name=WORDS("photo.again"))
    again.wait_for()
    page.unroute("**/v1/references")
    again.tap()
    page.get_by_role("link", name=WORDS("photo.next")).wait_for()
    assert kept(running, photo.read_bytes()) == 1


def test_a_photo_that_is_there_is_not_sent_again(
    phone: Phone, running: Running, tmp_path: Path
) -> None:
    photo = tmp_path / "again.jpg"
    photo.write_bytes(noise(3, 300))
    there = uploaded(running, photo.read_bytes())
    sent: list[str] = []
    phone.context.on("request", lambda request: sent.append(f"{request.method} {request.url}"))
    page = phone.open()
    choose_photo(page, photo, WORDS)
    assert shown(page, "photo.there").is_visible()
    assert [one for one in sent if one.startswith("POST") and "references" in one] == []
    assert phone.state()["photo"]["referenceId"] == there["id"]


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("words.jpg", b"no picture at all", "reference-type"),
        ("empty.jpg", b"", "reference-empty"),
        ("broken.jpg", noise(4, 400)[:20_000], "reference-damaged"),
    ],
)
def test_a_file_that_is_no_photo_is_refused_with_its_reason(
    phone: Phone, tmp_path: Path, name: str, content: bytes, code: str
) -> None:
    phone.expected = ("Failed to load resource",)
    file = tmp_path / name
    file.write_bytes(content)
    page = phone.open()
    page.get_by_label(WORDS("photo.file")).set_input_files(file)
    shown(page, f"problem.{code}").wait_for()
    # Those who cannot see it are told as well.
    assert WORDS(f"problem.{code}") in (page.get_by_role("alert").text_content() or "")
    assert shown(page, "photo.refused").is_visible()
    # There is nothing to go on with, and another photo can be chosen at once.
    assert not page.get_by_role("link", name=WORDS("photo.next")).is_visible()
    assert page.get_by_label(WORDS("photo.file")).count() == 1


def test_a_photo_is_deleted_with_all_that_was_made_of_it(
    phone: Phone, running: Running, tmp_path: Path
) -> None:
    photo = tmp_path / "gone.jpg"
    photo.write_bytes(noise(5, 200))
    page = phone.open()
    choose_photo(page, photo, WORDS)
    page.get_by_role("button", name=WORDS("photo.forget")).click()
    page.get_by_label(WORDS("photo.file")).wait_for(state="attached")
    wait_until(lambda: kept(running, photo.read_bytes()) == 0)


def test_what_was_said_is_there_after_a_reload(phone: Phone, photo: Path) -> None:
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("paper")
    open_tool(page, "size")
    width = page.get_by_label(WORDS("paper.width"), exact=True)
    width.fill("22 1/2 x 30 in")
    width.blur()
    page.reload()
    heading(page, WORDS("paper.title")).wait_for()
    open_tool(page, "size")
    # ISO 80000-3: an inch is 25.4 mm; shown in the unit that is chosen.
    assert width.input_value() == "57.15"
    assert page.get_by_label(WORDS("paper.height"), exact=True).input_value() == "76.2"
    assert phone.state()["photo"]["name"] == "portrait.jpg"


def test_a_photo_that_the_service_lost_is_asked_for_again(
    phone: Phone, running: Running, tmp_path: Path
) -> None:
    phone.expected = ("Failed to load resource",)
    photo = tmp_path / "lost-later.jpg"
    photo.write_bytes(noise(6, 200))
    page = phone.open()
    choose_photo(page, photo, WORDS)
    reference = phone.state()["photo"]["referenceId"]
    requests.delete(f"{running.url}/v1/references/{reference}", timeout=30)
    page.goto("about:blank")
    phone.open("sheets")
    heading(page, WORDS("photo.title")).wait_for()
    page.get_by_role("alert").get_by_text(WORDS("photo.gone")).wait_for(state="attached")


def test_what_is_left_of_a_damaged_photo_is_taken_on_a_tap(
    phone: Phone, running: Running, tmp_path: Path
) -> None:
    """It is refused first, with how much of it can be read."""
    phone.expected = ("Failed to load resource",)
    photo = tmp_path / "cut.jpg"
    whole = noise(5, 400)
    photo.write_bytes(whole[: len(whole) * 6 // 10] + b"\xff\xd9")
    page = phone.open()
    page.get_by_label(WORDS("photo.file")).set_input_files(photo)
    shown(page, "problem.reference-damaged").wait_for()
    told = page.locator(".notice.bad").inner_text()
    assert any(
        WORDS("photo.readable").replace("{percent}", str(share)) in told for share in range(55, 66)
    )
    assert kept(running, photo.read_bytes()) == 0
    page.get_by_role("button", name=WORDS("photo.as-it-is")).tap()
    page.get_by_role("link", name=WORDS("photo.next")).wait_for()
    assert kept(running, photo.read_bytes()) == 1


def test_a_small_photo_is_told_what_it_is_enough_for(phone: Phone, tmp_path: Path) -> None:
    """Two pixels make a millimetre of a line that can be traced, as the plan counts."""
    photo = tmp_path / "small.jpg"
    Image.new("RGB", (160, 120), "teal").save(photo)
    page = phone.open()
    choose_photo(page, photo, WORDS)
    told = page.locator(".photo-known").inner_text()
    assert "160 × 120" in told
    assert "mega" not in told
    assert "8\xa0×\xa06\xa0cm" in page.locator(".photo-small").inner_text()
    tiny = tmp_path / "tiny.jpg"
    Image.new("RGB", (80, 53), "teal").save(tiny)
    phone.expected = ("Failed to load resource",)
    page.get_by_label(WORDS("photo.other")).set_input_files(tiny)
    shown(page, "problem.reference-too-small").wait_for()
