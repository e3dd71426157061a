"""The service, a course site of its own origin, and browsers before the course site's page.

Two origins on two ports: the service at 127.0.0.1 and the course site at localhost, which
browsers take for different sites. So the frame is a third party, as it is in a school.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
from playwright.sync_api import Frame, Page

from client.web import FOLDER
from tests.integration.service.conftest import Running, start
from tests.integration.window import Window
from tests.servers.course_site import CourseSite, Ties, running
from tests.servers.ports import free_port
from tests.servers.webhook_receivers import LOOPBACK

DESK = {"width": 1280, "height": 800}
#: What a course site may do that asks for nothing else (README, "A course site").
SCOPES = ("read-class", "add-students", "start-sessions", "make-packs", "fetch-packs")


@dataclass(frozen=True, kw_only=True)
class Tutor:
    """A tutor of the service, who has given course sites a part of what they may do."""

    service: Running
    key: str
    class_id: str

    def ask(self, method: str, path: str, **how: Any) -> Any:
        """One request with the tutor's key."""
        headers = {"Authorization": f"Bearer {self.key}"}
        url = f"{self.service.url}{path}"
        answer = requests.request(method, url, headers=headers, timeout=60, **how)
        assert answer.ok, answer.text
        return answer.json() if answer.content else None

    def site(self, *origins: str, **limits: Any) -> tuple[str, str]:
        """A new course site: its id and its key."""
        wish = {"name": "School", "class_ids": [self.class_id], "origins": origins, **limits}
        made = self.ask("POST", "/v1/sites", json=wish)
        return made["site"]["id"], made["key"]


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with its page; course sites on this machine may be told things."""
    begun = start(
        tmp_path_factory.mktemp("course"), PAGE_DIR=FOLDER, WEBHOOK_NETWORKS=",".join(LOOPBACK)
    )
    yield begun
    assert begun.stop() == 0
    assert "Traceback" not in begun.log.read_text()


@pytest.fixture(scope="session")
def tutor(service: Running) -> Tutor:
    """The tutor, with a class."""
    url = f"{service.url}/v1"
    key = requests.post(f"{url}/tutors", json={"name": "Ruth Blume"}, timeout=60).json()["key"]
    headers = {"Authorization": f"Bearer {key}"}
    wish = {"name": "Thursday 7b", "settings": {"photos": 20, "packs": 20}}
    made = requests.post(f"{url}/classes", json=wish, headers=headers, timeout=60)
    assert made.ok, made.text
    return Tutor(service=service, key=key, class_id=made.json()["id"])


@pytest.fixture
def course_at(tutor: Tutor) -> Iterator[Callable[..., CourseSite]]:
    """Starts course sites that the tutor has let in; each is stopped at the end."""
    open_ones: list[Any] = []

    def begin(host: str = "localhost", **limits: Any) -> CourseSite:
        port = free_port()
        origin = f"http://{host}:{port}"
        site_id, key = tutor.site(origin, **limits)
        ties = Ties(
            service=tutor.service.url,
            origin=origin,
            site_id=site_id,
            key=key,
            class_id=tutor.class_id,
        )
        site = CourseSite(ties)
        open_ones.append(running(site, host, port))
        open_ones[-1].__enter__()
        return site

    yield begin
    for one in open_ones:
        one.__exit__(None, None, None)


@pytest.fixture
def course(course_at: Callable[..., CourseSite]) -> CourseSite:
    """A course site of another origin than the service."""
    return course_at()


@pytest.fixture
def told_course(course_at: Callable[..., CourseSite]) -> Iterator[CourseSite]:
    """A course site that the service tells of packs that are ready."""
    course = course_at(scopes=[*SCOPES, "webhooks"])
    hook_id = course.listen()
    yield course
    course.ricalco.webhooks.delete(hook_id)


@dataclass(kw_only=True)
class Visitor(Window):
    """A student's browser before the course site."""

    course: CourseSite

    def sign_in(self, user: str) -> Page:
        """Sign in at the course site, and go to its lesson."""
        self.page.goto(self.course.ties.origin)
        self.page.get_by_label("User name").fill(user)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.get_by_role("heading", name="Still life").wait_for()
        return self.page

    def frame(self) -> Frame:
        """The frame, once its page is ready."""
        inside = self.page.frame_locator("iframe[title='Make your pack']")
        inside.locator("html[data-ready]").wait_for(state="attached")
        (found,) = [one for one in self.page.frames if "/embed?" in one.url]
        return found


@pytest.fixture
def visitor_at(window_of: Callable[..., Visitor]) -> Callable[..., Visitor]:
    """Opens browsers before a course site."""

    def begin(course: CourseSite, **more: Any) -> Visitor:
        return window_of(Visitor, {"course": course}, **more)

    return begin


@pytest.fixture
def visitor(visitor_at: Callable[..., Visitor], course: CourseSite) -> Visitor:
    """A student's phone before the course site."""
    return visitor_at(course)


@pytest.fixture
def photo(portrait_file: Path) -> Path:
    """The photo that is traced."""
    return portrait_file
