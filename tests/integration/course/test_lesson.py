"""A student goes from photo to pack inside the course page; what they are told there is theirs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.integration.course.conftest import DESK, Tutor, Visitor
from tests.integration.course.steps import WORDS, choose, go_on, make_pack
from tests.integration.page.test_way import pages_of
from tests.integration.service.conftest import Running
from tests.servers.course_site import CourseSite
from tests.waiting import wait_until

#: Everything that a page can keep on the device, by the names of the standards; what is refused
#: to a frame is empty.
KEPT = """
async () => {
  const read = async (part) => { try { return await part(); } catch { return "refused"; } };
  return JSON.stringify({
    local: await read(() => ({ ...localStorage })),
    session: await read(() => ({ ...sessionStorage })),
    cookie: await read(() => document.cookie), name: window.name, state: history.state,
    databases: await read(async () => (await indexedDB.databases()).map(({ name }) => name)),
    caches: await read(async () => caches.keys()),
    workers: await read(async () => (await navigator.serviceWorker.getRegistrations()).length),
  });
}
"""


def shown_whole(page: Page) -> bool:
    """Whether the frame is as high as its content, or fills the window and scrolls."""
    (frame,) = [one for one in page.frames if "/embed?" in one.url]
    content = frame.evaluate("document.body.getBoundingClientRect().height")
    height, seen = page.locator("iframe").bounding_box()["height"], page.viewport_size["height"]  # type: ignore[index]  # It is shown.
    return bool(height <= seen + 1 and (height >= content - 1 or height >= seen - 1))


@pytest.mark.parametrize(
    ("user", "screen"),
    [("ada", {}), ("ming", {"viewport": DESK, "has_touch": False, "is_mobile": False})],
)
def test_from_photo_to_pack_inside_the_course_page(
    course: CourseSite,
    visitor_at: Callable[..., Visitor],
    tutor: Tutor,
    photo: Path,
    tmp_path: Path,
    user: str,
    screen: dict[str, Any],
) -> None:
    visitor = visitor_at(course, **screen)
    page = visitor.sign_in(user)
    frame = visitor.frame()
    wait_until(lambda: shown_whole(page))
    make_pack(frame, photo, f"Jug of {user}")
    wait_until(lambda: shown_whole(page))
    # The map and the thumbnails are pictures, and pictures cannot send a token by themselves.
    expect(frame.locator(".pack-map img")).not_to_have_js_property("naturalWidth", 0)
    with page.expect_download() as coming:
        frame.get_by_role("link", name=WORDS("pack.download")).click()
    path = tmp_path / coming.value.suggested_filename
    coming.value.save_as(path)
    assert pages_of(path) > 4
    # The school's own server sees it on the board, under the student whom it put there.
    board = tutor.ask("GET", f"/v1/classes/{tutor.class_id}/board")
    assert f"Jug of {user}" in json.dumps(board, ensure_ascii=False)


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1"])
def test_the_token_is_in_memory_alone(
    visitor_at: Callable[..., Visitor],
    course_at: Callable[..., CourseSite],
    service: Running,
    photo: Path,
    host: str,
) -> None:
    """In a page of another site, where storage may be refused, and of the same, where it is not."""
    visitor = visitor_at(course_at(host))
    page = visitor.sign_in("u01")
    frame = visitor.frame()
    choose(frame, photo)
    go_on(frame, "photo")
    frame.get_by_role("heading", name=WORDS("paper.title")).wait_for()
    assert visitor.course.tokens
    everything = [
        *visitor.addresses,
        *(one.url for one in page.frames),
        *(one.evaluate(KEPT) for one in page.frames),
        json.dumps(visitor.context.storage_state()),
        page.content(),
    ]
    log = service.log.read_text()
    assert "/v1/references" in log
    for token in visitor.course.tokens:
        assert token.startswith("rct_")
        assert not [one for one in everything if token in one]
        assert token not in log
    # The only cookie is the course site's own; the frame has none, and none was set for it.
    names = {(one["name"], one["domain"]) for one in visitor.context.cookies()}
    assert names == {("course", host)}
