"""One address may be framed, by one origin, and only where the site in the address names it.

The rule is that of CSP Level 3, 6.4.2 (www.w3.org/TR/CSP3): a page is shown in a frame only where
every page around it matches `frame-ancestors`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from client.web import FOLDER
from service.app import create_app
from service.embed import policy_for
from service.page import POLICY
from service.runtime.context import EXTENSION, ServiceContext
from worker.settings import Settings
from worker.store.ledger import NewSite

COURSE = "https://course.example"
OTHER = "https://other.example"
#: How browsers ask for a frame, and for a script, of another site (Fetch Metadata).
FRAME = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}
SCRIPT = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "script"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The service with its page, and nobody in it."""
    made = create_app(Settings(data_dir=tmp_path_factory.mktemp("data"), page_dir=FOLDER))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture(scope="module")
def sites(app: Flask) -> dict[str, str]:
    """Ids of two course sites, and of one whose time is over."""
    context: ServiceContext = app.extensions[EXTENSION]
    tutor = context.ledger.people.add_tutor("Ruth Blume")[0].id

    def site(origin: str, expires_at: float | None = None) -> str:
        new = NewSite(tutor_id=tutor, name="S", origins=(origin,), expires_at=expires_at)
        return context.ledger.sites.add(new)[0].id

    return {"course": site(COURSE), "other": site(OTHER), "over": site(COURSE, 1.0)}


def ask(app: Flask, path: str, **headers: str) -> TestResponse:
    """A browser's request."""
    return app.test_client().get(path, headers={"Host": "localhost", **headers})


def ancestors(answer: TestResponse) -> str:
    """Who may frame it."""
    assert answer.status_code == 200
    policies = dict(
        one.strip().partition(" ")[::2]
        for one in answer.headers["Content-Security-Policy"].split(";")
    )
    return policies["frame-ancestors"]


def test_the_site_in_the_address_may_frame_it(app: Flask, sites: dict[str, str]) -> None:
    answer = ask(app, f"/embed?site={sites['course']}&origin={COURSE}&language=it", **FRAME)
    assert ancestors(answer) == COURSE
    assert answer.text == (FOLDER / "embed.html").read_text(encoding="utf-8")
    # A browser that kept it would keep who may frame it too.
    assert answer.headers["Cache-Control"] == "no-store"
    assert "X-Frame-Options" not in answer.headers


@pytest.mark.parametrize(
    "query",
    [
        "",
        "site={course}",
        f"origin={COURSE}",
        f"site={{course}}&origin={OTHER}",
        f"site={{over}}&origin={COURSE}",
        f"site=sit_{'A' * 22}&origin={COURSE}",
        f"site={{course}}&origin={COURSE}/",
        f"site={{course}}&origin={COURSE} *",
        f"site={{course}}&origin={COURSE};script-src *",
        f"site={{course}}&origin={COURSE}&origin={OTHER}&site={{other}}",
        "site={course}&origin=*",
        "site={course}&origin=null",
    ],
)
def test_nobody_else_may(app: Flask, sites: dict[str, str], query: str) -> None:
    answer = ask(app, f"/embed?{query.format(**sites)}", **FRAME)
    first = query.startswith(f"site={{course}}&origin={COURSE}&")
    assert ancestors(answer) == (COURSE if first else "'none'")
    assert "script-src *" not in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize("path", ["/", "/embed.html", "/v1/sheet-formats", "/healthz", "/embed.js"])
def test_nothing_else_may_be_framed(app: Flask, path: str, sites: dict[str, str]) -> None:
    answer = ask(app, f"{path}?site={sites['course']}&origin={COURSE}")
    assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]


def test_all_else_of_its_policy_is_the_page_s(app: Flask, sites: dict[str, str]) -> None:
    answer = ask(app, f"/embed?site={sites['course']}&origin={COURSE}", **FRAME)
    assert answer.headers["Content-Security-Policy"] == policy_for(COURSE)
    assert policy_for(COURSE).replace(COURSE, "'none'") == POLICY == policy_for(None)


def test_any_page_may_load_the_script(app: Flask, sites: dict[str, str]) -> None:
    answer = ask(app, "/embed.js", **SCRIPT)
    assert answer.status_code == 200
    assert sites
    assert answer.headers["Cross-Origin-Resource-Policy"] == "cross-origin"
    again = ask(app, "/embed.js", **SCRIPT, **{"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    # Everything else of the page is for the page alone.
    assert ask(app, "/js/app.js", **SCRIPT).status_code == 403


def test_without_a_page_there_is_no_frame(tmp_path: Path) -> None:
    bare = create_app(Settings(data_dir=tmp_path))
    assert ask(bare, "/embed").status_code == ask(bare, "/embed.js").status_code == 404
    bare.extensions[EXTENSION].ledger.close()
