"""Who may frame the page, whose messages it takes, and what it shows when a session has ended.

The rules are those of CSP Level 3 (`frame-ancestors`, 6.4.2) and of the HTML Standard (9.3,
"Cross-document messaging").
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from flask import Flask
from playwright.sync_api import Frame, Page, expect

from ricalco_client import Ricalco
from tests.integration.course.conftest import Tutor, Visitor
from tests.integration.course.steps import WORDS, choose, go_on
from tests.integration.course.student import Student
from tests.integration.page.steps import Words
from tests.servers.course_site import CourseSite, running
from tests.servers.ports import free_port

ITALIAN = Words("it")
#: Half a session and a little more, by the browser's clock: then the frame renews it.
HALF_TIME = "05:30"
#: More than a session.
ALL_TIME = "11:00"


class Elsewhere:
    """Pages of an origin that no course site names."""

    def __init__(self, markup: str) -> None:
        self.app = Flask("elsewhere")
        self.app.add_url_rule("/", "page", lambda: markup)
        self.app.add_url_rule("/favicon.ico", "icon", lambda: ("", 204))


@pytest.fixture
def elsewhere_at() -> Iterator[Callable[[str], str]]:
    """Serves a page at another origin; gives the origin."""
    open_ones = []

    def begin(markup: str) -> str:
        site = running(Elsewhere(markup), "localhost", free_port())  # type: ignore[arg-type]  # It has an app.
        open_ones.append(site)
        return site.__enter__()

    yield begin
    for one in open_ones:
        one.__exit__(None, None, None)


def framing(address: str) -> str:
    """A page with a frame."""
    return f"<!doctype html><title>Elsewhere</title><iframe src='{address}'></iframe>"


def frame_address(course: CourseSite, **changed: str) -> str:
    """The frame's address, as `embed.js` makes it."""
    ties = course.ties
    parts = {"site": ties.site_id, "origin": ties.origin, **changed}
    query = "&".join(f"{name}={quote(value, safe='')}" for name, value in parts.items())
    return f"{ties.service}/embed?{query}"


def text_of(page: Page) -> str:
    """What a page's only frame shows; a refused one shows nothing of the service's."""
    page.wait_for_load_state("networkidle")
    return page.frames[1].evaluate("document.documentElement.className + document.title")


@pytest.mark.parametrize("which", ["own", "its own origin", "no site", "page", "api"])
def test_no_other_origin_may_show_it(
    visitor: Visitor, elsewhere_at: Callable[[str], str], which: str
) -> None:
    visitor.expected = ("frame-ancestors", "Failed to load resource", "Unsafe attempt")
    course = visitor.course
    # A page can write any origin into the address; its own is none that the site names.
    origin = elsewhere_at("") if which == "its own origin" else course.ties.origin
    address = {
        "own": frame_address(course),
        "its own origin": frame_address(course, origin=origin),
        "no site": frame_address(course, site="sit_" + "A" * 22),
        "page": f"{course.ties.service}/",
        "api": f"{course.ties.service}/v1/sheet-formats",
    }[which]
    visitor.page.goto(elsewhere_at(framing(address)))
    assert "Ricalco" not in text_of(visitor.page)
    assert "framed" not in text_of(visitor.page)


def test_the_page_itself_stays_closed_to_the_course_site_too(
    visitor: Visitor, course: CourseSite
) -> None:
    visitor.expected = ("frame-ancestors", "Unsafe attempt", "Content Security Policy", "403")
    page = visitor.sign_in("u02")
    visitor.frame()
    page.evaluate("(src) => { document.querySelector('iframe').src = src; }", course.ties.service)
    page.wait_for_load_state("networkidle")
    assert "Ricalco" not in page.frames[1].evaluate("document.title")


def test_messages_of_other_windows_are_not_listened_to(
    visitor: Visitor, course: CourseSite, elsewhere_at: Callable[[str], str]
) -> None:
    """A page that has opened the course's page can reach its windows, and tell them anything."""
    foreign = elsewhere_at("<!doctype html><title>Elsewhere</title>")
    visitor.sign_in("u03")
    visitor.page.goto(foreign)
    with visitor.page.expect_popup() as opening:
        visitor.page.evaluate(
            "(url) => { window.lesson = open(url); }", f"{course.ties.origin}/lesson"
        )
    lesson = opening.value
    inside = lesson.frame_locator("iframe")
    inside.locator("html[data-ready]").wait_for(state="attached")
    before = lesson.locator("iframe").get_attribute("style")
    visitor.page.evaluate(
        """() => {
          const says = [
            { ricalco: "session", session: { token: "rct_forged" }, view: 7 },
            { ricalco: "height", height: 7 }, { ricalco: "step" }, null, "session",
          ];
          for (const one of says) {
            window.lesson.postMessage(one, "*");
            window.lesson.frames[0].postMessage(one, "*");
          }
        }"""
    )
    # A message that is listened to is heard by then: it is delivered in the order of sending.
    lesson.evaluate("new Promise((done) => { onmessage = done; postMessage('over', '*'); })")
    assert lesson.locator("iframe").get_attribute("style") == before
    (frame,) = [one for one in lesson.frames if "/embed?" in one.url]
    view = "getComputedStyle(document.documentElement).getPropertyValue('--view')"
    assert frame.evaluate(view) != "7px"
    frame.get_by_role("heading", name=WORDS("photo.title")).wait_for()


def test_without_a_page_around_it_it_says_where_it_belongs(
    visitor: Visitor, course: CourseSite
) -> None:
    visitor.page.goto(frame_address(course))
    visitor.page.get_by_role("heading", name=Words()("embed.alone-title")).wait_for()


@pytest.mark.parametrize("whose", ["another site's", "another origin's"])
def test_a_token_that_is_not_for_this_frame_is_not_used(
    visitor: Visitor,
    course: CourseSite,
    course_at: Callable[..., CourseSite],
    tutor: Tutor,
    whose: str,
) -> None:
    other = course_at()
    if whose == "another site's":
        # Both sites have pages at both origins; the token is the other site's all the same.
        for one in (course, other):
            origins = [course.ties.origin, other.ties.origin]
            tutor.ask("PATCH", f"/v1/sites/{one.ties.site_id}", json={"origins": origins})
        there = CourseSite(
            type(other.ties)(**{**vars(other.ties), "origin": course.ties.origin}), tells=True
        )
    else:
        there = other
    course.session_for = there.session_for  # type: ignore[method-assign]  # Its server mixes them up.
    visitor.sign_in("u04")
    inside = visitor.page.frame_locator("iframe")
    inside.get_by_role("heading", name=WORDS("embed.refused-title")).wait_for()
    asked = {one.partition("?")[0] for one in visitor.addresses if "/v1/" in one}
    # It asked whose the token is, and nothing else.
    assert asked == {f"{course.ties.service}/v1/me"}


def renewals(visitor: Visitor) -> int:
    """How often the course page asked its own server for a session."""
    return sum(one.endswith("/ricalco/session") for one in visitor.addresses)


def test_a_session_is_renewed_before_it_ends(visitor: Visitor, photo: Path) -> None:
    visitor.context.clock.install()
    visitor.sign_in("u05")
    frame = visitor.frame()
    choose(frame, photo)
    assert renewals(visitor) == 1
    with visitor.page.expect_response("**/ricalco/session"):
        visitor.context.clock.fast_forward(HALF_TIME)
    go_on(frame, "photo")
    frame.get_by_role("heading", name=WORDS("paper.title")).wait_for()
    assert len(set(visitor.course.tokens)) == renewals(visitor) == 2


def end_sessions(tutor: Tutor, course: CourseSite) -> None:
    """End all sessions of a site, as its tutor does by taking its key away, and give a new one."""
    keys = tutor.ask("GET", f"/v1/sites/{course.ties.site_id}/keys")["items"]
    fresh = tutor.ask("POST", f"/v1/sites/{course.ties.site_id}/keys", json={})["key"]
    for one in keys:
        tutor.ask("DELETE", f"/v1/sites/{course.ties.site_id}/keys/{one['id']}")
    course.ties = type(course.ties)(**{**vars(course.ties), "key": fresh})


def test_a_session_that_ends_and_is_not_renewed_covers_the_page(
    visitor: Visitor, course: CourseSite, tutor: Tutor, photo: Path
) -> None:
    visitor.expected = ("401", "403")
    visitor.sign_in("u06")
    frame = visitor.frame()
    choose(frame, photo)
    course.tells = False
    end_sessions(tutor, course)
    go_on(frame, "photo")
    ended = frame.get_by_role("heading", name=WORDS("embed.ended-title"))
    ended.wait_for()
    # Nothing of the student is left to be seen.
    expect(frame.locator("#screen")).to_be_hidden()
    frame.get_by_role("button", name=WORDS("embed.again")).click()
    frame.get_by_text(WORDS("embed.still")).wait_for()
    course.tells = True
    frame.get_by_role("button", name=WORDS("embed.again")).click()
    # Where they were, with what they had.
    expect(ended).to_have_count(0)
    go_on(frame, "paper")
    go_on(frame, "frame")
    frame.locator(".plan-board .label").first.wait_for()


def test_it_ends_by_itself_when_nobody_renews_it(visitor: Visitor, course: CourseSite) -> None:
    visitor.expected = ("403",)
    visitor.context.clock.install()
    visitor.sign_in("u07")
    frame = visitor.frame()
    course.tells = False
    visitor.context.clock.fast_forward(ALL_TIME)
    frame.get_by_role("heading", name=WORDS("embed.ended-title")).wait_for()


def test_a_deleted_student_is_out_at_once(
    visitor: Visitor, course: CourseSite, tutor: Tutor
) -> None:
    visitor.expected = ("401", "403")
    visitor.sign_in("u08")
    frame = visitor.frame()
    ties = course.ties
    gone = Ricalco(ties.service, key=ties.key).classes.student(ties.class_id, "u08")["id"]
    course.tells = False
    tutor.ask("DELETE", f"/v1/classes/{tutor.class_id}/students/{gone}")
    frame.evaluate("location.hash = '#me'")
    frame.get_by_role("heading", name=WORDS("embed.ended-title")).wait_for()


def test_another_student_at_the_same_page_sees_nothing_of_the_first(
    visitor: Visitor, photo: Path
) -> None:
    visitor.context.clock.install()
    page = visitor.sign_in("u09")
    choose(visitor.frame(), photo)
    # In another tab somebody else signs in at the course site; this page stays open.
    other = visitor.context.new_page()
    other.goto(visitor.course.ties.origin)
    other.get_by_label("User name").fill("u10")
    other.get_by_role("button", name="Sign in").click()
    other.close()
    with page.expect_event("framenavigated"):
        visitor.context.clock.fast_forward(HALF_TIME)
    frame = visitor.frame()
    frame.get_by_role("heading", name=WORDS("photo.title")).wait_for()
    expect(frame.get_by_text("portrait.jpg")).to_have_count(0)


#: What a browser does that refuses a frame all storage: every way to it throws.
REFUSED = """
  for (const name of ["localStorage", "sessionStorage", "indexedDB", "caches"]) {
    Object.defineProperty(window, name, {
      get() { throw new DOMException("refused", "SecurityError"); },
    });
  }
  Object.defineProperty(Document.prototype, "cookie", {
    get() { throw new DOMException("refused", "SecurityError"); },
    set() { throw new DOMException("refused", "SecurityError"); },
  });
"""


def change_settings(frame: Frame) -> None:
    """Choose Italian and dark in the settings, by the names in the language that is shown."""
    frame.get_by_role("button", name=WORDS("settings.open")).click()
    frame.locator("dialog label", has_text=WORDS("settings.dark")).click()
    frame.locator("dialog label", has_text="Italiano").click()
    frame.get_by_role("heading", name=ITALIAN("photo.title")).wait_for()
    assert frame.evaluate("document.documentElement.dataset.theme") == "dark"


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1"])
@pytest.mark.parametrize("storage", ["as it is", "refused"])
def test_language_and_theme_work_with_and_without_storage(
    visitor_at: Callable[..., Visitor],
    course_at: Callable[..., CourseSite],
    photo: Path,
    host: str,
    storage: str,
) -> None:
    """On another site's page storage is partitioned or refused; on the same site's it is shared."""
    visitor = visitor_at(course_at(host))
    if storage == "refused":
        visitor.context.add_init_script(REFUSED)
    page = visitor.sign_in("u11")
    change_settings(visitor.frame())
    choose_in(visitor.frame(), photo)
    page.reload()
    frame = visitor.frame()
    kept = host == "127.0.0.1" and storage == "as it is"
    words = ITALIAN if kept else WORDS
    frame.get_by_role("heading", name=words("common.shelf" if kept else "photo.title")).wait_for()
    # What was begun goes on where it is kept; else the same photo is not sent again.
    expect(frame.locator(".shelf-card")).to_have_count(1 if kept else 0)


def choose_in(frame: Frame, photo: Path) -> None:
    """Choose a photo, in Italian."""
    frame.get_by_label(ITALIAN("photo.file")).set_input_files(photo)
    frame.get_by_role("link", name=ITALIAN("photo.next")).wait_for()


def test_what_was_made_before_is_found_again(visitor: Visitor, portrait: bytes) -> None:
    """Where a frame may keep nothing, a student's packs are listed by the service."""
    Student(visitor.course, "u12").makes_a_pack(portrait, "An earlier jug")
    visitor.sign_in("u12")
    frame = visitor.frame()
    frame.get_by_role("button", name=f"{WORDS('shelf.open')} An earlier jug").click()
    frame.get_by_role("link", name=WORDS("pack.download")).wait_for()
    # A session deletes nothing unless the site says so, so nothing offers it.
    assert frame.get_by_role("button", name=WORDS("pack.delete")).count() == 0
