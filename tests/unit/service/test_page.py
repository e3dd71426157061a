"""The page's folder is served file by file, and nothing beside it."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from client.web import FOLDER
from service.app import create_app
from service.page import POLICY, TYPES, Page
from worker.errors import NotFound, SettingInvalid
from worker.settings import Settings

HTML = "<!doctype html><title>A page</title>" + "<p>Paper and graphite.</p>" * 100
LOCAL = {"Host": "localhost"}


def page_in(home: Path) -> Path:
    """A page of a few files, with some beside it that are nobody's business."""
    files = {
        "page/index.html": HTML,
        "page/sw.js": "addEventListener('fetch', () => {});" * 20,
        "page/js/app.js": "export const answer = 42;\n" * 50,
        "page/icons/small.png": "no real picture",
        "page/__init__.py": "secret = 1",
        "page/.hidden.js": "secret",
        "page/.git/config.json": "{}",
        "page/__pycache__/odd.js": "secret",
        "secret.html": "secret",
    }
    for name, text in files.items():
        path = home / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return home / "page"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return page_in(tmp_path)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Flask:
    """The service with that page, which nobody changes."""
    home = tmp_path_factory.mktemp("served")
    return create_app(Settings(data_dir=home / "data", page_dir=page_in(home)))


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """Someone who asks it."""
    return app.test_client()


def ask(client: FlaskClient, path: str, **headers: str) -> TestResponse:
    """An answer to a browser on this machine."""
    told = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.get(path, headers={**LOCAL, **told})


def test_only_files_that_pages_are_made_of_are_known(folder: Path) -> None:
    assert Page(folder).names == {"index.html", "sw.js", "js/app.js", "icons/small.png"}


def test_the_front_page_answers_at_the_root(client: FlaskClient) -> None:
    answer = ask(client, "/")
    assert (answer.status_code, answer.text) == (200, HTML)
    assert answer.headers["Content-Type"] == "text/html; charset=utf-8"
    assert answer.headers["Content-Security-Policy"] == POLICY
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"] == "no-cache"
    assert ask(client, "/index.html").text == HTML


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.html",
        "/js/../../secret.html",
        "/%2e%2e/secret.html",
        "/js%2f..%2f..%2fsecret.html",
        "/..\\secret.html",
        "/js/app.js/",
        "/js",
        "/js/",
        "/js/app.js%00.html",
        "/__init__.py",
        "/.hidden.js",
        "/.git/config.json",
        "/__pycache__/odd.js",
        "/JS/app.js",
        "/v1/nothing",
        "/indexxhtml",
    ],
)
def test_nothing_else_is_there(client: FlaskClient, path: str) -> None:
    answer = ask(client, path)
    assert answer.status_code == 404
    assert answer.json is not None
    assert answer.json["code"] == "not-found"


def test_other_calls_are_answered_as_without_a_page(client: FlaskClient) -> None:
    for method, path, status in [
        ("POST", "/v1/nothing", 404),
        ("DELETE", "/v1/references/odd", 404),
        ("POST", "/", 405),
        ("HEAD", "/js/app.js", 200),
        ("GET", "/healthz", 200),
    ]:
        assert client.open(path, method=method, headers=LOCAL).status_code == status


def test_text_is_sent_compressed_to_those_who_take_it(client: FlaskClient) -> None:
    plain, packed = ask(client, "/"), ask(client, "/", Accept_Encoding="br, gzip")
    assert packed.headers["Content-Encoding"] == "gzip"
    assert len(packed.data) < len(plain.data) / 4
    assert gzip.decompress(packed.data) == plain.data
    assert "Content-Encoding" not in plain.headers
    assert plain.headers["Vary"] == packed.headers["Vary"] == "Accept-Encoding"
    refused = ask(client, "/", Accept_Encoding="gzip;q=0, identity")
    assert "Content-Encoding" not in refused.headers


def test_pictures_are_not_compressed_twice_and_kept_for_a_day(client: FlaskClient) -> None:
    answer = ask(client, "/icons/small.png", Accept_Encoding="gzip")
    assert "Content-Encoding" not in answer.headers
    assert answer.headers["Content-Type"] == "image/png"
    assert answer.headers["Cache-Control"] == "max-age=86400"


def test_who_has_it_is_told_so_without_a_body(client: FlaskClient) -> None:
    plain, packed = ask(client, "/"), ask(client, "/", Accept_Encoding="gzip")
    tags = [answer.headers["ETag"] for answer in (plain, packed)]
    # Two representations, two strong tags (RFC 9110, 8.8.3.3).
    assert len(set(tags)) == 2
    assert not any(tag.startswith("W/") for tag in tags)
    again = ask(client, "/", Accept_Encoding="gzip", If_None_Match=f'"other", {tags[1]}')
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == tags[1]
    # RFC 9110, 15.4.5 lists what a 304 must repeat.
    assert again.headers["Cache-Control"] == "no-cache"
    assert again.headers["Vary"] == "Accept-Encoding"
    assert ask(client, "/", If_None_Match=tags[1]).status_code == 200


def test_a_file_that_is_written_anew_is_read_anew(folder: Path, tmp_path: Path) -> None:
    client = create_app(Settings(data_dir=tmp_path / "data", page_dir=folder)).test_client()
    before = ask(client, "/js/app.js")
    (folder / "js/app.js").write_text("export const answer = 43;\n")
    after = ask(client, "/js/app.js", If_None_Match=before.headers["ETag"])
    assert (after.status_code, after.text) == (200, "export const answer = 43;\n")
    os.unlink(folder / "js/app.js")  # noqa: PTH108 -- A file that goes while it is served.
    assert ask(client, "/js/app.js").status_code == 404


def test_the_service_worker_may_look_after_the_whole_page(client: FlaskClient) -> None:
    answer = ask(client, "/sw.js")
    assert answer.headers["Service-Worker-Allowed"] == "/"
    assert answer.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert "Service-Worker-Allowed" not in ask(client, "/js/app.js").headers


def test_the_guard_stands_before_the_page_too(client: FlaskClient) -> None:
    assert client.get("/", headers={"Host": "rebound.example"}).status_code == 421
    foreign = {**LOCAL, "Sec-Fetch-Site": "cross-site"}
    assert client.get("/js/app.js", headers=foreign).status_code == 403


def test_without_a_folder_nothing_is_served(tmp_path: Path) -> None:
    client = create_app(Settings(data_dir=tmp_path)).test_client()
    assert ask(client, "/").status_code == 404
    assert ask(client, "/index.html").status_code == 404


def test_a_folder_without_a_front_page_is_refused_at_the_start(tmp_path: Path) -> None:
    with pytest.raises(SettingInvalid) as caught:
        create_app(Settings(data_dir=tmp_path / "data", page_dir=tmp_path / "nowhere"))
    assert caught.value.field == "RICALCO_PAGE_DIR"


def test_names_are_asked_for_as_they_were_found(folder: Path) -> None:
    with pytest.raises(NotFound):
        Page(folder).file("../secret.html")


def test_every_file_of_our_page_is_of_a_kind_that_is_served() -> None:
    ours = [path for path in FOLDER.rglob("*") if path.is_file() and "__" not in str(path)]
    assert {path.suffix for path in ours} <= set(TYPES)
    # PWA practice: these two must be at the root, since they look after all below it.
    assert {"index.html", "sw.js"} <= Page(FOLDER).names


def test_it_lists_its_files_for_those_who_keep_them(client: FlaskClient) -> None:
    answer = ask(client, "/files.json")
    assert answer.status_code == 200
    assert answer.json == {"files": ["/icons/small.png", "/js/app.js", "/words/languages.json"]}


def test_a_language_is_a_folder_of_texts(folder: Path) -> None:
    for name in ("en", "pt-BR"):
        (folder / "words" / name).mkdir(parents=True)
        (folder / "words" / name / "texts.json").write_text("{}", encoding="utf-8")
    assert Page(folder).languages == ["en", "pt-BR"]
    assert {"en", "it"} <= set(Page(FOLDER).languages)
