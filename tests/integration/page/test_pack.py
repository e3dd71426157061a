"""The pack: a phone that sleeps while it is made, a studio without a network."""

from __future__ import annotations

import io
import json
from base64 import b64decode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import numpy.typing as npt
import psutil
import pytest
import requests
from PIL import Image
from playwright.sync_api import Locator, Page, Route

from tests.integration.page.conftest import Phone
from tests.integration.page.line import Line
from tests.integration.page.steps import Words, choose_photo, heading
from tests.integration.service.conftest import Running, wait_until
from tests.integration.window import PATIENCE_MS
from worker.store.ledger import Ledger

WORDS = Words()


def card(page: Page, name: str, *, done: bool = False) -> Locator:
    """A card of a finished pack; ticked, if it must be."""
    return page.locator(f".pack-card{'.done' * done}[data-card={name}]")


@contextmanager
def held(service: Running) -> Iterator[None]:
    """The making stands still meanwhile: worker and all its children are stopped."""
    web, worker = service.children()
    assert "web" in " ".join(web.cmdline())
    family = [worker, *worker.children(recursive=True)]
    for process in family:
        process.suspend()
    try:
        yield
    finally:
        for process in family:
            try:
                process.resume()
            except psutil.NoSuchProcess:
                continue


def ask_for_pack(phone: Phone, photo: Path) -> str:
    """Press the button; gives the pack's path."""
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("pack")
    with page.expect_response(
        lambda answer: answer.url.endswith("/v1/packs") and answer.request.method == "POST"
    ) as made:
        page.get_by_role("button", name=WORDS("pack.make")).tap()
    return str(made.value.json()["links"]["self"])


def ready(page: Page) -> None:
    """Wait for the pack."""
    page.get_by_role("link", name=WORDS("pack.download")).wait_for()


def wait_kept(page: Page, right: Callable[[int], bool]) -> None:
    """Wait until the phone keeps as many answers about packs as it should."""
    for _ in range(int(PATIENCE_MS / 50)):
        found = page.evaluate("caches.open('ricalco-packs').then((cache) => cache.keys())")
        if right(len(found)):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"{len(found)} answers are kept")


def wait_made(service: Running, path: str) -> None:
    """Wait until the service has made it, without the page."""

    def made() -> bool:
        pack: Any = requests.get(service.url + path, timeout=30).json()
        return bool(pack["state"] == "ready")

    wait_until(made, service)


def test_a_phone_that_sleeps_finds_the_pack_when_it_wakes(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """Frozen as a phone freezes a page in a pocket; no event reaches it meanwhile."""
    phone = phone_at(slow_service)
    phone.expected = ("ERR_", "Failed to load resource")
    talk = phone.context.new_cdp_session(phone.page)
    with held(slow_service):
        path = ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
        talk.send("Page.setWebLifecycleState", {"state": "frozen"})
    wait_made(slow_service, path)
    talk.send("Page.setWebLifecycleState", {"state": "active"})
    ready(phone.page)


def test_a_pack_that_waits_for_room_says_so(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(slow_service)
    ledger = Ledger.open(f"sqlite:///{(slow_service.data_dir / 'ledger.db').as_posix()}")
    with held(slow_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.step.waiting")).wait_for()
        assert ledger.note_room(there=False) == 1
        phone.page.get_by_text(WORDS("pack.step.waiting-for-room")).wait_for()
    ledger.close()
    # The worker finds room, and makes it.
    ready(phone.page)


def test_a_line_that_is_gone_while_it_is_made_is_waited_for(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(slow_service)
    phone.expected = ("ERR_", "Failed to load resource")
    with held(slow_service):
        path = ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
        phone.context.set_offline(True)
    wait_made(slow_service, path)
    phone.page.wait_for_timeout(500)
    phone.context.set_offline(False)
    ready(phone.page)


def test_a_screen_that_does_not_come_says_so(
    slow_service: Running, phone_at: Callable[..., Phone]
) -> None:
    """Over plain HTTP nothing is kept: a line that drops must not look like a dead button."""
    phone = phone_at(slow_service, service_workers="block")
    phone.expected = ("ERR_", "Failed to load resource", "Service Worker")
    page = phone.open()
    phone.context.set_offline(True)
    page.evaluate("location.hash = 'pack'")
    heading(page, WORDS("app.unloaded")).wait_for()
    again = page.get_by_role("button", name=WORDS("app.again"))
    again.tap()
    heading(page, WORDS("app.unloaded")).wait_for()
    phone.context.set_offline(False)
    again.tap()
    heading(page, WORDS("pack.title")).wait_for()


def test_texts_that_do_not_come_are_asked_for_again(
    slow_service: Running, phone_at: Callable[..., Phone]
) -> None:
    phone = phone_at(slow_service, service_workers="block")
    phone.expected = ("ERR_", "Failed to load resource", "Service Worker")
    phone.context.route("**/words/en/sheets-to-studio.json", lambda route: route.abort(), times=2)
    heading(phone.open("pack"), WORDS("pack.title")).wait_for()


def test_without_events_it_is_asked_for_now_and_then(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(slow_service)
    phone.expected = ("ERR_", "Failed to load resource", "EventSource")
    phone.context.route("**/events", lambda route: route.abort())
    with held(slow_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
    ready(phone.page)


def test_without_a_place_among_the_streams_it_is_asked_for_now_and_then(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """A browser does not come again by itself after a refusal (HTML, 9.2.2)."""
    phone = phone_at(slow_service)
    phone.expected = ("503", "Failed to load resource", "EventSource")
    refused: list[str] = []

    def refuse(route: Route) -> None:
        refused.append(route.request.url)
        route.fulfill(status=503, headers={"Retry-After": "10"}, body="{}")

    phone.context.route("**/events", refuse)
    with held(slow_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
    ready(phone.page)
    assert len(refused) == 1


def test_a_page_that_is_loaded_anew_goes_on_where_it_was(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(slow_service)
    with held(slow_service):
        ask_for_pack(phone, photo)
        phone.page.reload()
        heading(phone.page, WORDS("pack.title")).wait_for()
    ready(phone.page)


def test_a_full_queue_is_asked_again_with_the_same_key(phone: Phone, photo: Path) -> None:
    """Nothing is lost and nothing made twice; the page says meanwhile what it waits for."""
    keys: list[str] = []

    def refuse_once(route: Route) -> None:
        keys.append(route.request.headers["idempotency-key"])
        if len(keys) > 1:
            route.continue_()
            return
        said = json.dumps({"code": "queue-full", "status": 503, "detail": "Full."})
        kind = {"Content-Type": "application/problem+json", "Retry-After": "2"}
        route.fulfill(status=503, headers=kind, body=said)

    phone.expected = ("Failed to load resource",)
    phone.context.route("**/v1/packs", refuse_once)
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("pack")
    page.get_by_role("button", name=WORDS("pack.make")).tap()
    page.get_by_text(WORDS("problem.queue-full")).first.wait_for()
    ready(page)
    assert len(keys) == 2
    assert keys[0] == keys[1]


def test_cards_are_ticked_and_another_style_is_one_tap(
    phone: Phone, photo: Path, tmp_path: Path
) -> None:
    """From the title to the second pack; then another photo, which has none of it."""
    page = phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("pack")
    # Until faces are told, the frame may still move for them.
    while phone.state()["faces"] is None:
        page.wait_for_timeout(50)
    title = page.get_by_label(WORDS("pack.name"))
    title.fill("Study")
    title.press("Enter")
    ready(page)
    first = phone.state()["pack"]
    pack = page.request.get(f"{phone.service.url}/v1/packs/{first['id']}").json()
    assert (pack["title"], pack["spec"]["tone"]["style"]) == ("Study", "grey")
    assert card(page, "rest").count() == 1
    assert card(page, "rest", done=True).count() == card(page, "measure", done=True).count() == 0
    lengths = {one["name"]: one for one in pack["plan"]["check_lengths"] if one["scope"] == "sheet"}
    for way in ("across", "down"):
        field = page.get_by_label(WORDS(f"printer.bar.{way}"))
        field.fill(f"{lengths[way]['length_mm']} mm")
    card(page, "measure", done=True).wait_for()
    with page.expect_download():
        page.get_by_role("link", name=WORDS("pack.download")).click()
    card(page, "rest", done=True).wait_for()
    # What is done is told again later.
    phone.open("pack")
    card(page, "rest", done=True).wait_for()
    card(page, "measure", done=True).wait_for()
    plotter = page.get_by_role("link", name=WORDS("pack.card.shop-go"))
    assert plotter.get_attribute("href") == pack["files"]["full_size"]

    page.get_by_role("button", name=WORDS("pack.style.outline")).tap()
    back = page.get_by_role("button", name=WORDS("pack.style.grey"))
    back.wait_for()
    second = phone.state()
    lines = page.request.get(f"{phone.service.url}/v1/packs/{second['pack']['id']}").json()
    assert second["pack"]["id"] != first["id"]
    assert second["sheets"]["style"] == lines["spec"]["tone"]["style"] == "outline"
    assert (lines["title"], lines["spec"]["crop"]) == ("Study", pack["spec"]["crop"])
    back.tap()
    page.get_by_text(WORDS("common.number", number=pack["number"])).wait_for()
    assert phone.state()["sheets"]["style"] == "grey"
    assert page.get_by_role("link", name=WORDS("pack.studio")).is_visible()

    other = tmp_path / "other.png"
    with Image.open(photo) as picture:
        picture.rotate(90).save(other)
    phone.open("photo")
    page.locator("input[type=file]").first.set_input_files(other)
    page.get_by_text(WORDS("photo.sent")).first.wait_for()
    phone.open("pack")
    page.get_by_role("button", name=WORDS("pack.make")).wait_for()
    assert page.get_by_label(WORDS("pack.name")).input_value() == ""
    assert page.get_by_role("img", name=WORDS("pack.map")).count() == 0


def drawn(card: Locator) -> npt.NDArray[np.float64]:
    """The greys of a card; transparent is paper."""
    packed: str = card.evaluate(
        "(canvas) => canvas.toDataURL('image/png').slice('data:image/png;base64,'.length)"
    )
    with Image.open(io.BytesIO(b64decode(packed))) as picture:
        paper = Image.new("RGBA", picture.size, "white")
        paper.alpha_composite(picture.convert("RGBA"))
        return np.asarray(paper.convert("L"), float)


@pytest.mark.parametrize(
    "kept",
    [
        # Both pieces lie on their sides.
        {"paper": {"widthMm": 540, "heightMm": 190}},
        {"sheets": {"gridMm": 50, "style": "outline", "detail": 1}},
    ],
    ids=["turned", "outline"],
)
def test_all_sheets_are_shown_from_one_picture(
    phone: Phone, photo: Path, kept: dict[str, Any]
) -> None:
    """None is drawn by the service for it; each is what the service would have drawn."""
    asked: list[str] = []
    page = phone.page
    page.on("request", lambda request: asked.append(urlsplit(request.url).path))
    name, value = json.dumps("ricalco.state.1"), json.dumps(json.dumps(kept))
    phone.context.add_init_script(
        f"localStorage.getItem({name}) ?? localStorage.setItem({name}, {value})"
    )
    path = ask_for_pack(phone, photo)
    ready(page)
    cards = page.locator(".sheet-stack canvas")
    cards.last.scroll_into_view_if_needed()
    plan = page.request.get(phone.service.url + path).json()["plan"]
    for place in (0, cards.count() - 1):
        piece = plan["pieces"][place]
        assert piece["turned_deg"] == 90 or "paper" not in kept
        seen = drawn(cards.nth(place))
        for _ in range(100):
            if seen.min() < 200:
                break
            page.wait_for_timeout(50)
            seen = drawn(cards.nth(place))
        address = f"{phone.service.url}{path}/sheets/{piece['label'].replace('·', '-')}.png"
        with Image.open(io.BytesIO(page.request.get(address).body())) as one:
            whole = one.convert("L").resize(seen.shape[::-1], Image.Resampling.BOX)
        shown, wanted = (inside(each, plan, piece) for each in (seen, np.asarray(whole, float)))
        assert np.abs(shown - wanted).mean() < 12
        assert np.corrcoef(blurred(shown), blurred(wanted))[0, 1] > 0.9
    assert [one for one in asked if one.startswith(path) and "/sheets/" in one] == []
    # The page shows it, and keeps it for a studio without a network.
    assert 1 <= asked.count(f"{path}/picture.jpg") <= 2


def inside(
    greys: npt.NDArray[np.float64], plan: dict[str, Any], piece: dict[str, Any]
) -> npt.NDArray[np.float64]:
    """What lies well within the piece: its register marks stand at the edge."""
    scale, rect, rim_mm = greys.shape[1] / plan["sheet"]["width_mm"], piece["sheet_rect_mm"], 6
    left, top = (round((rect[side] + rim_mm) * scale) for side in ("left", "top"))
    right = round((rect["left"] + rect["width"] - rim_mm) * scale)
    bottom = round((rect["top"] + rect["height"] - rim_mm) * scale)
    return greys[top:bottom, left:right]


def blurred(greys: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Means of small squares, in one row."""
    side = 8
    rows, columns = (length // side * side for length in greys.shape)
    squares = greys[:rows, :columns].reshape(rows // side, side, columns // side, side)
    return np.asarray(squares.mean(axis=(1, 3)).ravel())


def test_keys_keep_their_place_while_it_is_made(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """News draws the screen anew; the focus stays where the person left it (WCAG 2.4.3)."""
    phone = phone_at(slow_service)
    page = phone.page
    phone.open()
    choose_photo(page, photo, WORDS)
    phone.open("pack")
    with held(slow_service):
        page.get_by_role("button", name=WORDS("pack.make")).press("Enter")
        page.get_by_text(WORDS("pack.queued")).first.wait_for()
        focused = page.locator(":focus")
        assert focused.text_content() == WORDS("pack.cancel")
    ready(page)
    assert focused.count() == 1
    assert page.locator(".plate-foot").locator(":focus").count() == 1


def test_what_is_deleted_is_gone_from_the_phone_too(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """The map shows the photo faintly: it must not outlive it in a cache."""
    phone = phone_at(slow_service)
    # Thumbnails that were on their way come to nothing.
    phone.expected = ("404",)
    page = phone.page
    ask_for_pack(phone, photo)
    ready(page)
    wait_kept(page, lambda count: count >= 2)
    phone.open("photo")
    page.get_by_role("button", name=WORDS("photo.forget")).click()
    page.get_by_label(WORDS("photo.file")).wait_for(state="attached")
    wait_kept(page, lambda count: count == 0)
    assert phone.state()["pack"] is None


def test_it_is_cancelled(
    slow_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(slow_service)
    with held(slow_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_role("button", name=WORDS("pack.cancel"), exact=True).tap()
    phone.page.get_by_text(WORDS("pack.cancelled-title")).first.wait_for()
    # It can be made all the same.
    assert phone.page.get_by_role("button", name=WORDS("pack.make-again")).is_visible()


def test_a_line_over_which_nothing_comes_is_not_waited_for_long(
    running: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """Out of reach of the service, a phone often waits a minute before it gives up."""
    line = Line(urlsplit(running.url).port or 0)
    phone = phone_at(replace(running, url=line.url))
    phone.expected = ("ERR_", "Failed to load resource", "Failed to fetch")
    page = phone.page
    ask_for_pack(phone, photo)
    ready(page)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    wait_kept(page, lambda count: count >= 2)
    line.silent = True
    page.goto("about:blank")
    phone.open("pack")
    page.get_by_role("img", name=WORDS("pack.map")).wait_for()
    line.close()


def test_map_and_checklist_are_read_in_a_studio_without_a_network(
    service_to_stop: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """The service itself is stopped, so that nothing can come from anywhere but the phone."""
    phone = phone_at(service_to_stop)
    phone.expected = ("ERR_", "Failed to load resource", "Failed to fetch")
    page = phone.page
    ask_for_pack(phone, photo)
    ready(page)
    drawn = page.get_by_role("img", name=WORDS("pack.map"))
    drawn.evaluate("(image) => image.decode()")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.open("studio")
    page.locator(".studio-text").wait_for()
    assert service_to_stop.stop() == 0
    page.goto("about:blank")
    phone.open("pack")
    heading(page, WORDS("pack.title")).wait_for()
    drawn.wait_for()
    assert drawn.evaluate("(image) => image.decode().then(() => image.naturalWidth > 500)")
    page.get_by_text(WORDS("pack.offline")).wait_for()
    label = WORDS("pack.card.first-go", label="")
    assert card(page, "first").get_by_text(label).get_attribute("aria-disabled") == "true"
    assert card(page, "shop").get_by_role("link").get_attribute("href") is None
    page.goto("about:blank")
    phone.open("studio")
    page.locator(".studio-text").wait_for()
    shown = page.locator(".studio-map img")
    assert shown.evaluate("(image) => image.decode().then(() => image.naturalWidth > 500)")
