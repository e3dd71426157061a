"""A course website as a school might write it: its own students, its own sign-in, one lesson.

It knows Ricalco by its documents alone: a site key on its server, the client library, and one
line of markup in the lesson's page. Who asks is known by this site's own cookie; its students
have no key of Ricalco's, and are not asked to sign in there. Where the site listens, Ricalco
tells it by a webhook that a pack is ready: then the lesson is done, and its page shows the map
and the pack from links that this server asks for.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http import HTTPStatus

from flask import (
    Flask,
    Response,
    abort,
    redirect,
    render_template_string,
    request,
    session,
    url_for,
)
from werkzeug.serving import WSGIRequestHandler, make_server

from ricalco_client import ClientError, Ricalco, WebhookRefused

#: The school's students, by user name. Two have the same name.
STUDENTS = {
    **{f"u{number:02}": f"Student {number}" for number in range(1, 28)},
    "ada": "Ada Okafor",
    "ming": "王小明",
    "ada2": "Ada Okafor",
}
_HEAD = """<!doctype html>
<html lang="{{ language }}"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ title }}</title><link rel="stylesheet" href="{{ url_for('style') }}"></head>
<body><header>Drawing school</header><main><h1>{{ title }}</h1>"""
SIGN_IN = (
    _HEAD
    + """<form method="post"><label>User name <input name="user" autocomplete="username"></label>
<button>Sign in</button></form></main></body></html>"""
)
LESSON = (
    _HEAD
    + """<p>Signed in as {{ name }}. Photograph your jug, and make the sheets to trace it from.</p>
<script src="{{ service }}/embed.js" data-site="{{ site_id }}"
 data-session="{{ url_for('start_session') }}" data-title="Make your pack" async></script>
{% if done %}<h2>Lesson done</h2>
<p><img src="{{ url_for('show', file='map.png') }}" alt="How your sheets are joined"></p>
<p><a href="{{ url_for('show', file='pack.pdf') }}">Your sheets to print</a></p>{% endif %}
<p>Bring the joined sheets to the next lesson.</p></main></body></html>"""
)
STYLE = """body { margin: 0; font: 17px/1.5 system-ui, sans-serif; color: #1d2a33; }
header { padding: 10px 16px; background: #1d2a33; color: #fff; }
main { max-width: 1140px; margin: 0 auto; padding: 0 16px 24px; }
iframe { border-radius: 6px; outline: 1px solid #c5cdd2; }
img { max-width: 100%; max-height: 24em; }"""


@dataclass(frozen=True, kw_only=True)
class Ties:
    """What the course site was told of the service when it was set up.

    Attributes:
        origin: The origin of the site's own pages.
        key: The site key; it stays on this server.
    """

    service: str
    origin: str
    site_id: str
    key: str
    class_id: str


@dataclass
class CourseSite:
    """The running site, and what a test may change about it.

    Attributes:
        tells: Whether it starts sessions at all; a course may close while a page is open.
        language: What its pages are marked as; the frame follows it where it can.
        secret: Its webhook's; empty while it has none.
        students: The service's ids of its students, by user name.
        packs: The last pack that was told to be ready, by the service's id of the student.
        tokens: Of the sessions that it started, in order.
    """

    ties: Ties
    app: Flask = field(init=False)
    tells: bool = True
    language: str = "en"
    secret: str = ""
    students: dict[str, str] = field(default_factory=dict)
    packs: dict[str, str] = field(default_factory=dict)
    tokens: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Make the application."""
        self.app = _make_app(self)

    @property
    def ricalco(self) -> Ricalco:
        """The service, with the site key; each of this server's threads has one of its own."""
        return Ricalco(self.ties.service, key=self.ties.key)

    def page(self, template: str, **facts: object) -> str:
        """One of its pages."""
        return render_template_string(template, language=self.language, **facts)

    def session_for(self, user: str) -> dict[str, object]:
        """A new session for one of the students, as the service answers it."""
        ricalco = self.ricalco
        student = ricalco.classes.put_student(self.ties.class_id, user, STUDENTS[user])
        self.students[user] = student["id"]
        started = ricalco.sessions.start(student["id"], self.ties.origin)
        self.tokens.append(started["token"])
        return started

    def listen(self) -> str:
        """Have the service tell this site of packs that are ready; gives the webhook's id."""
        made = self.ricalco.webhooks.create(f"{self.ties.origin}/ricalco/told", ["pack.ready"])
        self.secret = made["secret"]
        return str(made["webhook"]["id"])

    def note_ready(self, pack_id: str) -> None:
        """Note whose pack is ready: the webhook names the pack alone, the key may ask for more."""
        pack = self.ricalco.packs.get(pack_id)
        self.packs[pack.document["owner_id"]] = pack_id

    def pack_of(self, user: str) -> str | None:
        """The pack of one of the students, once the service has told that it is ready."""
        return self.packs.get(self.students.get(user, ""))


def _make_app(site: CourseSite) -> Flask:
    app = Flask("course-site")
    app.secret_key = secrets.token_bytes(32)
    # Its own name, so that a service on the same host keeps its cookies apart.
    app.config["SESSION_COOKIE_NAME"] = "course"

    @app.get("/style.css")
    def style() -> Response:
        return Response(STYLE, mimetype="text/css")

    @app.get("/favicon.ico")
    def icon() -> tuple[str, int]:
        return "", HTTPStatus.NO_CONTENT

    @app.route("/", methods=["GET", "POST"])
    def sign_in() -> Response | str:
        user = request.form.get("user", "")
        if user not in STUDENTS:
            return site.page(SIGN_IN, title="Sign in")
        session["user"] = user
        return redirect(url_for("lesson"))  # type: ignore[return-value]  # werkzeug's own kind

    @app.get("/lesson")
    def lesson() -> str:
        user, ties = _user(), site.ties
        facts = {"name": STUDENTS[user], "service": ties.service, "site_id": ties.site_id}
        return site.page(LESSON, title="Still life", done=site.pack_of(user), **facts)

    @app.post("/ricalco/session")
    def start_session() -> dict[str, object]:
        """What `data-session` names: only who is signed in here gets a session there."""
        if not site.tells:
            abort(403)
        try:
            return site.session_for(_user())
        except ClientError:
            app.logger.exception("Ricalco started no session.")
            abort(502)

    @app.after_request
    def policy(response: Response) -> Response:
        """Its own content policy: itself, and Ricalco's script, frame, API and pictures."""
        service = site.ties.service
        response.headers["Content-Security-Policy"] = (
            f"default-src 'self'; script-src {service}; frame-src {service}; "
            f"connect-src 'self' {service}; img-src 'self' {service}"
        )
        return response

    _add_finished_packs(app, site)
    return app


def _add_finished_packs(app: Flask, site: CourseSite) -> None:
    """How the site learns that a pack is ready, and shows it."""

    @app.post("/ricalco/told")
    def told() -> tuple[str, int]:
        """The webhook's address. What fails here with 500 is sent again later."""
        try:
            event = Ricalco.verify_webhook(request.get_data(), request.headers, site.secret)
        except WebhookRefused:
            abort(400)
        site.note_ready(event.id)
        return "", HTTPStatus.NO_CONTENT

    @app.get("/lesson/<any('map.png', 'pack.pdf'):file>")
    def show(file: str) -> Response:
        """Send the browser to a link, made when it is used since it lasts for minutes only."""
        pack_id = site.pack_of(_user()) or abort(404)
        return redirect(site.ricalco.packs.link(pack_id, file).url)  # type: ignore[return-value]  # As above.


def _user() -> str:
    return session["user"] if session.get("user") in STUDENTS else abort(401)


class _Quiet(WSGIRequestHandler):
    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002 - werkzeug's name
        """Say nothing: the test looks at pages, not at a log."""


@contextmanager
def running(site: CourseSite, host: str, port: int) -> Iterator[str]:
    """Serve the site; gives its origin."""
    server = make_server(host, port, site.app, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://{host}:{port}"
    finally:
        server.shutdown()
        thread.join()
