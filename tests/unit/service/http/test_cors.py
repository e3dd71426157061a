"""Course pages may call the API; what they are told is what the Fetch Standard asks for.

The rules are those of "CORS protocol" in the Fetch Standard (fetch.spec.whatwg.org, 3.3).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from service.http.answers import problems
from service.http.cors import EXPOSED_HEADERS, PREFLIGHT_S, answer_course_pages, course_origin
from service.http.requests.host_guard import guard
from worker.settings import Settings

COURSE = "https://course.example"
PREFLIGHT = {"Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "x"}


@pytest.fixture
def app() -> Flask:
    """A guarded application with one course site."""
    app = Flask("test", static_folder=None)
    guard(app, Settings(data_dir=Path("unused")), COURSE.__eq__)
    answer_course_pages(app)
    problems.register(app)
    for path, endpoint in (("/v1/packs", "packs"), ("/", "page"), ("/embed", "page_embed")):
        methods = ["GET", "POST"]
        app.add_url_rule(path, endpoint, lambda: str(course_origin()), methods=methods)
    return app


def ask(app: Flask, method: str, path: str, **headers: str) -> TestResponse:
    """A request as a browser sends it from another site."""
    told = {name.replace("_", "-"): value for name, value in headers.items()}
    told = {"Host": "localhost", "Sec-Fetch-Site": "cross-site", **told}
    return app.test_client().open(path, method=method, headers=told)


def test_a_preflight_says_what_a_course_page_may_send_and_for_how_long(app: Flask) -> None:
    answer = ask(app, "OPTIONS", "/v1/packs", Origin=COURSE, **PREFLIGHT)
    assert (answer.status_code, answer.data) == (204, b"")
    told = answer.headers
    assert told["Access-Control-Allow-Origin"] == COURSE
    assert {"authorization", "content-type", "idempotency-key", "if-none-match", "range"} <= {
        name.strip().lower() for name in told["Access-Control-Allow-Headers"].split(",")
    }
    # "*" would not cover Authorization (Fetch Standard, "CORS non-wildcard request-header name").
    assert "*" not in told["Access-Control-Allow-Headers"]
    assert {"GET", "POST", "PUT", "PATCH", "DELETE"} <= {
        name.strip() for name in told["Access-Control-Allow-Methods"].split(",")
    }
    assert told["Access-Control-Max-Age"] == str(PREFLIGHT_S)
    assert "Origin" in told["Vary"]


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_course_page_may_read_the_answer_without_cookies(app: Flask, method: str) -> None:
    answer = ask(app, method, "/v1/packs", Origin=COURSE)
    assert answer.text == COURSE
    assert answer.headers["Access-Control-Allow-Origin"] == COURSE
    assert "Access-Control-Allow-Credentials" not in answer.headers
    exposed = answer.headers["Access-Control-Expose-Headers"].split(", ")
    assert exposed == list(EXPOSED_HEADERS)
    assert {"Location", "ETag", "Retry-After", "RateLimit", "Deprecation"} <= set(exposed)


def test_it_may_read_refusals_too(app: Flask) -> None:
    answer = ask(app, "GET", "/v1/nothing", Origin=COURSE)
    assert answer.status_code == 404
    assert answer.headers["Access-Control-Allow-Origin"] == COURSE


@pytest.mark.parametrize(
    "origin",
    [
        "https://other.example",
        "https://course.example.other.example",
        "http://course.example",
        "https://course.example:8443",
        "https://COURSE.example",
        "null",
        "*",
        "",
    ],
)
@pytest.mark.parametrize("method", ["OPTIONS", "GET", "POST"])
def test_pages_of_other_origins_get_nothing(app: Flask, origin: str, method: str) -> None:
    answer = ask(app, method, "/v1/packs", Origin=origin, **PREFLIGHT)
    assert answer.status_code == 403
    assert not any(name.startswith("Access-Control") for name, _ in answer.headers)


def test_only_the_api_is_for_course_pages(app: Flask) -> None:
    assert ask(app, "POST", "/", Origin=COURSE).status_code == 403
    assert ask(app, "POST", "/embed", Origin=COURSE).status_code == 403


def test_caches_keep_the_answers_to_different_origins_apart(app: Flask) -> None:
    answer = ask(app, "GET", "/v1/packs", Sec_Fetch_Site="same-origin")
    assert (answer.text, answer.headers["Vary"]) == ("None", "Origin")
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_page_of_the_service_is_no_course_page_even_if_a_site_names_it() -> None:
    app = Flask("test", static_folder=None)
    guard(app, Settings(data_dir=Path("unused")), lambda _: True)
    problems.register(app)
    app.add_url_rule("/v1/packs", "packs", lambda: str(course_origin()))
    assert ask(app, "GET", "/v1/packs", Origin="http://localhost").status_code == 403
    own = ask(app, "GET", "/v1/packs", Origin="http://localhost", Sec_Fetch_Site="same-origin")
    assert own.text == "None"


def test_any_page_may_ask_for_the_frame(app: Flask) -> None:
    """Whether it may show it, the frame's own policy says: see `service.embed`."""
    answer = ask(app, "GET", "/embed", Sec_Fetch_Mode="navigate", Sec_Fetch_Dest="iframe")
    assert answer.status_code == 200
