"""JSON bodies are read strictly."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from flask import Flask

from service.http.errors import BodyUnreadable, RequestInvalid
from service.http.requests.bodies import MAX_JSON_DEPTH, limit_bodies, read_json
from worker.errors import FolderNotWritable


def test_an_object_is_read() -> None:
    assert read_json(b'{"a": [1, {"b": null}]}') == {"a": [1, {"b": None}]}


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"{'a': 1}",
        b'{"a": NaN}',
        b'{"a": -Infinity}',
        b'{"a": 1, "a": 2}',
        b'{"a": 1} {"b": 2}',
        b"\xff\xfe\xfd",
        b"\xef\xbb\xbf{}",
        b'{"a": ' + b"9" * 5000 + b"}",
        b"[" * 50_000,
        b'{"a":' * 5_000 + b"1" + b"}" * 5_000,
    ],
)
def test_what_is_no_json_is_refused(body: bytes) -> None:
    with pytest.raises(BodyUnreadable):
        read_json(body)


@pytest.mark.parametrize("body", [b"[]", b"null", b"5", b'"spec"', b"true"])
def test_what_is_no_object_is_refused(body: bytes) -> None:
    with pytest.raises(RequestInvalid):
        read_json(body)


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(FolderNotWritable, match="spool"):
        limit_bodies(Flask("test"), max_upload_bytes=1, spool=tmp_path / "file" / "spool")


def nested(depth: int) -> bytes:
    """Objects in objects."""
    document: object = 1
    for _ in range(depth):
        document = {"a": document}
    return json.dumps(document).encode()


def test_depth_is_bounded() -> None:
    read_json(nested(MAX_JSON_DEPTH))
    with pytest.raises(BodyUnreadable, match="deeper"):
        read_json(nested(MAX_JSON_DEPTH + 1))
