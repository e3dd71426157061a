"""A problem's type is the address of a page that explains it (RFC 9457, 3.1.1)."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.http.answers.problems import CODES, WORDS, status_of
from service.runtime.context import EXTENSION
from worker.settings import Settings


class Loads(HTMLParser):
    """What a page would load, run or lead to."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.links += [value or "" for name, value in attrs if name in {"href", "src"}]


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path_factory.mktemp("data")))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


def test_the_type_of_a_problem_leads_to_its_page(client: FlaskClient) -> None:
    problem = client.post("/v1/plans", json={"spec": {}}).json
    page = client.get(problem["type"])
    assert (page.status_code, page.mimetype) == (200, "text/html")
    assert problem["code"] in page.text
    assert problem["title"] in page.text


def test_every_code_has_a_page_with_what_to_do_and_its_status(client: FlaskClient) -> None:
    for code in CODES:
        page = client.get(f"/v1/problems/{code}")
        assert page.status_code == 200
        assert WORDS[code]["advice"] in page.text.replace("&#x27;", "'")
        assert f"HTTP status: {status_of(code)} " in page.text


def test_the_list_leads_to_all_of_them(client: FlaskClient) -> None:
    found = Loads()
    found.feed(client.get("/v1/problems").text)
    assert set(found.links) == {f"/v1/problems/{code}" for code in CODES}


def test_a_code_that_no_problem_has_is_not_found(client: FlaskClient) -> None:
    answer = client.get("/v1/problems/no-such-code")
    assert (answer.status_code, answer.json["code"]) == (404, "not-found")


def test_a_page_loads_and_runs_nothing(client: FlaskClient) -> None:
    """The policy lets in the page's own style sheet, by its hash (CSP 3, 6.7.3)."""
    page = client.get("/v1/problems/busy")
    found = Loads()
    found.feed(page.text)
    assert not found.tags & {"script", "link", "img", "iframe", "form"}
    (style,) = re.findall(r"<style>(.*?)</style>", page.text)
    hashed = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = page.headers["Content-Security-Policy"]
    assert f"style-src 'sha256-{hashed}'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
