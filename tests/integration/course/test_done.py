"""A webhook tells the course site that a pack is ready; its page shows the pack from links."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import requests
from playwright.sync_api import expect

from tests.integration.course.conftest import Visitor
from tests.integration.course.steps import make_pack
from tests.integration.page.test_way import pages_of
from tests.servers.course_site import CourseSite
from tests.waiting import HANG_S, wait_until


def test_the_course_page_says_done_and_shows_the_pack_without_a_key(
    told_course: CourseSite, visitor_at: Callable[..., Visitor], photo: Path, tmp_path: Path
) -> None:
    visitor = visitor_at(told_course)
    # Where a browser shows a PDF in a tab, it asks for an icon beside it.
    visitor.expected = ("favicon.ico",)
    page = visitor.sign_in("u21")
    make_pack(visitor.frame(), photo, "Jug of u21")
    # The lesson's page itself is asked, with the student's cookie of the course site.
    lesson = page.url
    wait_until(lambda: "Lesson done" in page.request.get(lesson).text(), every_s=0.5)
    page.reload()
    picture = page.get_by_alt_text("How your sheets are joined")
    expect(picture).not_to_have_js_property("naturalWidth", 0)
    opens = page.context.expect_event("response", lambda one: "/v1/links/pack.pdf" in one.url)
    with opens as opened:
        page.get_by_role("link", name="Your sheets to print").click()
    # The browser has no cookie but the course site's, and the link opens without any.
    assert {one["name"] for one in visitor.context.cookies()} == {"course"}
    assert opened.value.ok
    path = tmp_path / "pack.pdf"
    path.write_bytes(requests.get(opened.value.url, timeout=HANG_S).content)
    assert pages_of(path) > 4
    # Another student's lesson is not done.
    assert told_course.pack_of("u22") is None
    assert "Lesson done" not in visitor_at(told_course).sign_in("u22").content()


def test_what_is_not_signed_marks_nothing_as_done(told_course: CourseSite) -> None:
    told_course.session_for("u23")
    forged = {"type": "pack.ready", "timestamp": "2026-03-02T09:30:00Z", "data": {"id": "pck_1"}}
    signed = {
        "webhook-id": "msg_1",
        "webhook-timestamp": str(int(time.time())),
        "webhook-signature": "v1,AAAA",
    }
    url = f"{told_course.ties.origin}/ricalco/told"
    answer = requests.post(url, json=forged, headers=signed, timeout=HANG_S)
    assert (answer.status_code, told_course.packs) == (400, {})
