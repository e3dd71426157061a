"""The pack: a phone that sleeps while it is made, a studio without a network."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psutil
import pytest
import requests
from playwright.sync_api import Page

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, heading
from tests.integration.service.conftest import Running, wait_until

WORDS = Words()


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


def wait_made(service: Running, path: str) -> None:
    """Wait until the service has made it, without the page."""

    def made() -> bool:
        pack: Any = requests.get(service.url + path, timeout=30).json()
        return bool(pack["state"] == "ready")

    wait_until(made, service)


def test_a_phone_that_sleeps_finds_the_pack_when_it_wakes(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """Frozen as a phone freezes a page in a pocket; no event reaches it meanwhile."""
    phone = phone_at(own_service)
    phone.expected = ("ERR_", "Failed to load resource")
    talk = phone.context.new_cdp_session(phone.page)
    with held(own_service):
        path = ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
        talk.send("Page.setWebLifecycleState", {"state": "frozen"})
    wait_made(own_service, path)
    talk.send("Page.setWebLifecycleState", {"state": "active"})
    ready(phone.page)


def test_a_line_that_is_gone_while_it_is_made_is_waited_for(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(own_service)
    phone.expected = ("ERR_", "Failed to load resource")
    with held(own_service):
        path = ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
        phone.context.set_offline(True)
    wait_made(own_service, path)
    phone.page.wait_for_timeout(500)
    phone.context.set_offline(False)
    ready(phone.page)


def test_without_events_it_is_asked_for_now_and_then(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(own_service)
    phone.expected = ("ERR_", "Failed to load resource", "EventSource")
    phone.context.route("**/events", lambda route: route.abort())
    with held(own_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_text(WORDS("pack.queued")).first.wait_for()
    ready(phone.page)


def test_a_page_that_is_loaded_anew_goes_on_where_it_was(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    phone = phone_at(own_service)
    with held(own_service):
        ask_for_pack(phone, photo)
        phone.page.reload()
        heading(phone.page, WORDS("pack.title")).wait_for()
    ready(phone.page)


def test_it_is_cancelled(own_service: Running, phone_at: Callable[..., Phone], photo: Path) -> None:
    phone = phone_at(own_service)
    with held(own_service):
        ask_for_pack(phone, photo)
        phone.page.get_by_role("button", name=WORDS("pack.cancel"), exact=True).tap()
    phone.page.get_by_text(WORDS("pack.cancelled-title")).first.wait_for()
    # It can be made all the same.
    assert phone.page.get_by_role("button", name=WORDS("pack.make-again")).is_visible()


@pytest.mark.timeout(120)
def test_map_and_checklist_are_read_in_a_studio_without_a_network(
    own_service: Running, phone_at: Callable[..., Phone], photo: Path
) -> None:
    """The service itself is stopped, so that nothing can come from anywhere but the phone."""
    phone = phone_at(own_service)
    phone.expected = ("ERR_", "Failed to load resource", "Failed to fetch")
    page = phone.page
    ask_for_pack(phone, photo)
    ready(page)
    drawn = page.get_by_role("img", name=WORDS("pack.map"))
    drawn.evaluate("(image) => image.decode()")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.open("studio")
    heading(page, WORDS("studio.title")).wait_for()
    page.wait_for_load_state("networkidle")
    assert own_service.stop() == 0
    page.goto("about:blank")
    phone.open("pack")
    heading(page, WORDS("pack.title")).wait_for()
    drawn.wait_for()
    assert drawn.evaluate("(image) => image.decode().then(() => image.naturalWidth > 500)")
    page.goto("about:blank")
    phone.open("studio")
    heading(page, WORDS("studio.title")).wait_for()
    assert page.get_by_role("checkbox").count() > 8
