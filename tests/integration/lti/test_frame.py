"""A launch in a real browser: the platform's page at one origin, the service in a frame of it.

With a cookie of the frame's own (`Partitioned`), and without any cookie, where the platform keeps
the login's secret: LTI Client Side postMessages 1.0, as its page here answers them.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from playwright.sync_api import Browser, Page
from werkzeug.serving import make_server

from client.web import FOLDER
from service.app import create_app
from service.runtime.context import EXTENSION
from tests.integration.lti.conftest import ROLES, register
from tests.integration.window import PATIENCE_MS, PHONE
from tests.servers.learning_platform import MEMBER, Asked, LearningPlatform, serving
from worker.settings import Settings
from worker.store.ledger import Ledger

#: What a platform's page does for tools in its frames: it keeps what it is given, by origin.
STORAGE = """
const kept = new Map();
addEventListener("message", ({source, origin, data}) => {
  const name = `${origin} ${data.key}`;
  if (data.subject === "lti.put_data") kept.set(name, data.value);
  if (!["lti.put_data", "lti.get_data"].includes(data.subject)) return;
  const {message_id, key} = data;
  const subject = `${data.subject}.response`;
  source.postMessage({subject, message_id, key, value: kept.get(name)}, origin);
});
"""


def form(action: str, fields: dict[str, str], target: str = "") -> str:
    """A form that sends itself."""
    inside = "".join(
        f'<input type="hidden" name="{escape(name)}" value="{escape(value)}">'
        for name, value in fields.items()
    )
    return (
        f'<form method="post" action="{escape(action)}" target="{target}">{inside}</form>'
        "<script>document.forms[0].submit()</script>"
    )


@dataclass
class School:
    """The service, and a platform whose page has it in a frame."""

    url: str
    ledger: Ledger
    platform: LearningPlatform
    tutor_id: str
    keeps: dict[str, bool]
    storage: bool = False
    roles: tuple[str, ...] = (f"{MEMBER}Learner",)

    def course(self, _: Asked) -> str:
        """The platform's page: a frame, storage for it, and the form that begins the login."""
        more = {"lti_storage_target": "_parent"} if self.storage else {}
        login = self.platform.login(f"{self.url}/lti/launch", **more)
        frame = '<iframe name="tool" width="390" height="700"></iframe>'
        begin = form(f"{self.url}/lti/login", login, "tool")
        return f"<!DOCTYPE html><title>Course</title><script>{STORAGE}</script>{frame}{begin}"

    def auth(self, asked: Asked) -> str:
        """The platform's authentication: it knows the person, and sends the token at once."""
        query = asked.form
        claims = self.platform.claims(query["nonce"], f"{self.url}/lti/launch")
        tutor = {"sub": "teacher-1", "name": "Ruth Blume"} if self.roles[0] != _LEARNS else {}
        token = self.platform.sign({**claims, **tutor, ROLES: [*self.roles]})
        return form(query["redirect_uri"], {"state": query["state"], "id_token": token})


_LEARNS = f"{MEMBER}Learner"
#: What scripts of the frame keep; a browser may keep nothing at all there.
_KEPT = """() => {
  try {
    return JSON.stringify([{...localStorage}, {...sessionStorage}]);
  } catch {
    return "";
  }
}"""


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> Iterator[School]:
    """Both on loopback, at sites of their own: 127.0.0.1 and localhost."""
    folder = tmp_path_factory.mktemp("data")
    settings = Settings(data_dir=folder, page_dir=FOLDER, lti_private_hosts=("localhost",))
    app = create_app(settings)
    ledger: Ledger = app.extensions[EXTENSION].ledger
    keeps = {"cookies": True}

    def answer(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        """What a browser sees that blocks cookies in frames, where the test says so."""

        def begin(status: str, headers: list[tuple[str, str]], *rest: Any) -> Any:
            kept = [one for one in headers if keeps["cookies"] or one[0] != "Set-Cookie"]
            return start(status, kept, *rest)

        return app.wsgi_app(environ, begin)

    server = make_server("127.0.0.1", 0, answer, threaded=True)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    with serving() as platform:
        platform.base = platform.base.replace("127.0.0.1", "localhost")
        tutor_id = ledger.people.add_tutor("Head of art")[0].id
        register(ledger, platform, tutor_id, origins=(platform.base,))
        url = f"http://127.0.0.1:{server.port}"
        made = School(url, ledger, platform, tutor_id, keeps)
        platform.pages = {"/course": made.course, "/auth": made.auth}
        yield made
    server.shutdown()
    thread.join()
    ledger.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A phone."""
    context = browser.new_context(viewport=PHONE, locale="en-GB")
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


def test_a_tutor_opens_the_class_from_the_frame(school: School, page: Page) -> None:
    school.keeps["cookies"] = True
    school.storage, school.roles = False, (f"{MEMBER}Instructor",)
    page.goto(f"{school.platform.base}/course")
    inside = page.frame_locator("iframe")
    inside.get_by_role("heading", name="Drawing, group 7").wait_for()
    with page.context.expect_page() as opened:
        inside.get_by_role("button", name="Open the class in a new window").click()
    window = opened.value
    window.get_by_text("Drawing, group 7").first.wait_for()
    (row,) = school.ledger.classes.of_tutor(school.tutor_id)
    assert window.url == f"{school.url}/#class/{row.id}"


@pytest.mark.parametrize("storage", [False, True], ids=["cookie", "storage"])
def test_a_student_comes_to_the_page_in_the_frame(
    school: School,
    page: Page,
    storage: bool,  # noqa: FBT001 -- pytest hands it over.
    tmp_path: Path,
) -> None:
    addresses: list[str] = []
    page.context.on("request", lambda request: addresses.append(request.url))
    _have_opened(school)
    school.storage, school.roles = storage, (_LEARNS,)
    school.keeps["cookies"] = not storage
    page.goto(f"{school.platform.base}/course")
    inside = page.frame_locator("iframe")
    inside.locator("html[data-ready]").wait_for(state="attached")
    (frame,) = [one for one in page.frames if one.url.startswith(school.url)]
    assert frame.url == f"{school.url}/lti/launch"
    assert inside.locator("#launch").count() == 0
    cookies = [one["name"] for one in page.context.cookies() if "ricalco_key" in one["name"]]
    assert cookies == []
    kept = frame.evaluate(_KEPT)
    for prefix in ("rct_", "rcp_"):
        assert prefix not in kept + json.dumps(addresses)
    assert frame.evaluate("async () => (await fetch('/v1/me')).status") == 401
    page.screenshot(path=tmp_path / "launch.png")


def test_another_page_may_not_show_the_launch(school: School, page: Page) -> None:
    # CSP 3, 6.4.2: every page around the frame must be one that is named.
    _have_opened(school)
    school.keeps["cookies"] = True
    school.storage, school.roles = False, (_LEARNS,)
    with serving() as other:
        # The same pages, at an origin that the operator did not name.
        other.pages = {"/course": school.course}
        page.goto(f"{other.base.replace('127.0.0.1', 'localhost')}/course")
        page.wait_for_load_state("networkidle")
        assert page.frame_locator("iframe").locator("html[data-ready]").count() == 0


def _have_opened(school: School) -> None:
    """The course is a class already, whichever test runs first."""
    (row,) = school.ledger.platforms.all()
    school.ledger.platforms.open_context(row, "1:first", "course-7", "Drawing, group 7")
