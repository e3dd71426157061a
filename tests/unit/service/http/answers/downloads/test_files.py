"""Files as answers: tags, conditions and ranges as RFC 9110 has them."""

from __future__ import annotations

import base64
import hashlib
from contextlib import ExitStack
from io import FileIO
from pathlib import Path

import pytest
from flask import Flask, Response

from service.http.answers import problems
from service.http.answers.downloads import files
from service.http.answers.downloads.digests import Digests
from worker.errors import NotFound

BYTES = bytes(range(100))
TAG = files.etag("packs/x", "pack.pdf")


class Lender:
    """Sees whether what was lent came back."""

    def __init__(self) -> None:
        self.lent = 0

    def lend(self) -> ExitStack:
        self.lent += 1
        stack = ExitStack()
        stack.callback(self.back)
        return stack

    def back(self) -> None:
        self.lent -= 1


@pytest.fixture
def lender() -> Lender:
    """Who lends the file."""
    return Lender()


@pytest.fixture
def app(tmp_path: Path, lender: Lender) -> Flask:
    """An application with one file."""
    path = tmp_path / "pack.pdf"
    path.write_bytes(BYTES)
    app, digests = Flask("test", static_folder=None), Digests()
    problems.register(app)

    @app.get("/file")
    def file() -> Response:
        return files.send(path, lender.lend(), name="Évora.pdf", tag=TAG, digests=digests)

    return app


def test_the_whole_file(app: Flask, lender: Lender) -> None:
    with app.test_client().get("/file") as answer:
        assert answer.data == BYTES
    assert answer.headers["ETag"] == f'"{TAG}"'
    assert answer.headers["Accept-Ranges"] == "bytes"
    # RFC 9530: the digest is that of the whole file, in base64 between colons.
    digest = base64.b64encode(hashlib.sha256(BYTES).digest()).decode()
    assert answer.headers["Repr-Digest"] == f"sha-256=:{digest}:"
    assert answer.headers["Content-Length"] == "100"
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert "filename*=UTF-8''%C3%89vora.pdf" in answer.headers["Content-Disposition"]
    assert lender.lent == 0


@pytest.mark.parametrize(
    ("asked", "found", "told"),
    [
        ("bytes=0-9", BYTES[:10], "bytes 0-9/100"),
        ("bytes=90-", BYTES[90:], "bytes 90-99/100"),
        ("bytes=-5", BYTES[95:], "bytes 95-99/100"),
        ("bytes=95-1000", BYTES[95:], "bytes 95-99/100"),
    ],
)
def test_one_range(app: Flask, lender: Lender, asked: str, found: bytes, told: str) -> None:
    with app.test_client().get("/file", headers={"Range": asked}) as answer:
        assert (answer.status_code, answer.data) == (206, found)
    assert answer.headers["Content-Range"] == told
    assert lender.lent == 0


@pytest.mark.parametrize("asked", ["bytes=0-1,5-6", "bytes=x", "lines=0-1", "bytes=9-1", ""])
def test_ranges_that_are_none_or_several_are_ignored(app: Flask, asked: str) -> None:
    with app.test_client().get("/file", headers={"Range": asked}) as answer:
        assert (answer.status_code, answer.data) == (200, BYTES)


def test_a_range_beyond_the_file_is_a_problem(app: Flask, lender: Lender) -> None:
    answer = app.test_client().get("/file", headers={"Range": "bytes=100-"})
    assert answer.status_code == 416
    assert answer.headers["Content-Range"] == "bytes */100"
    assert answer.content_type == "application/problem+json"
    assert lender.lent == 0


@pytest.mark.parametrize("condition", [f'"{TAG}"', f'W/"{TAG}"', f'"other", "{TAG}"', "*"])
def test_who_has_the_file_gets_nothing(app: Flask, lender: Lender, condition: str) -> None:
    answer = app.test_client().get("/file", headers={"If-None-Match": condition})
    assert (answer.status_code, answer.data) == (304, b"")
    assert answer.headers["ETag"] == f'"{TAG}"'
    assert lender.lent == 0


def test_a_range_of_another_version_brings_the_whole(app: Flask) -> None:
    headers = {"Range": "bytes=0-9", "If-Range": '"other"'}
    with app.test_client().get("/file", headers=headers) as answer:
        assert answer.status_code == 200
    with app.test_client().get("/file", headers=headers | {"If-Range": f'"{TAG}"'}) as answer:
        assert answer.status_code == 206


@pytest.mark.parametrize("condition", [f'"{TAG}"', f'W/"{TAG}"', "*"])
def test_making_is_spared_for_who_has_the_file(app: Flask, condition: str) -> None:
    with app.test_request_context("/file", headers={"If-None-Match": condition}):
        assert files.fresh_in_cache(TAG)
    with app.test_request_context("/file", headers={"If-None-Match": '"other"'}):
        assert not files.fresh_in_cache(TAG)


def test_a_file_that_cannot_be_read_to_its_end_is_closed(
    app: Flask, lender: Lender, tmp_path: Path
) -> None:
    class Broken(Digests):
        def of(self, file: FileIO, tag: str) -> str:
            del file, tag
            raise ZeroDivisionError

    where = {"name": "pack.pdf", "tag": TAG, "digests": Broken()}
    with app.test_request_context("/file"), pytest.raises(ZeroDivisionError):
        files.send(tmp_path / "pack.pdf", lender.lend(), **where)
    assert lender.lent == 0


def test_head_tells_the_length_and_sends_nothing(app: Flask, lender: Lender) -> None:
    answer = app.test_client().head("/file")
    assert (answer.status_code, answer.data) == (200, b"")
    assert answer.headers["Content-Length"] == "100"
    assert lender.lent == 0


def test_a_file_that_vanished_gives_its_lender_back(app: Flask, lender: Lender) -> None:
    stack = lender.lend()
    with app.test_request_context("/file"), pytest.raises(NotFound):
        files.send(Path("nowhere.pdf"), stack, name="nowhere.pdf", tag=TAG, digests=Digests())
    assert lender.lent == 0
