"""Who is told to send a file, and what nobody else learns of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from flask import Flask, Response

from service.http.answers.downloads.handing_over import hand_over
from worker.settings import Sender, Settings
from worker.store.files import ShownFile, Storage, open_storage

KEY, NAME = "packs/p1/a1/pack.pdf", "静物.pdf"
BUCKET = "s3://files?endpoint=http://127.0.0.1:1&region=us-east-1"
SHOWN = ShownFile(content_type="application/pdf", disposition="inline", caching="no-cache")


@pytest.fixture(params=["folder", "bucket"])
def storage(request: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Storage:
    """Both kinds; an address is signed without asking a server."""
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "tests")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "tests")
    url = BUCKET if request.param == "bucket" else ""
    return open_storage(Settings(data_dir=tmp_path, storage_url=url))


def asked(storage: Storage, sender: Sender, method: str = "GET", **headers: str) -> Response | None:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    with Flask("test").test_request_context(method=method, headers=named):
        return hand_over(storage, sender, KEY, NAME)


def test_the_service_sends_where_nobody_else_is_named(storage: Storage) -> None:
    assert asked(storage, "service", X_Forwarded_For="192.0.2.1") is None


def test_a_proxy_is_told_a_place_of_its_own(storage: Storage) -> None:
    told = asked(storage, "proxy", X_Forwarded_For="192.0.2.1")
    assert told is not None
    assert (told.status_code, told.data, told.content_type) == (200, b"", "application/pdf")
    assert "filename*=UTF-8''%E9%9D%99%E7%89%A9.pdf" in told.headers["Content-Disposition"]
    assert told.headers["Cache-Control"] == "private, no-cache"
    if storage.presigned(KEY, SHOWN, outside=False) is None:
        assert told.headers["X-Accel-Redirect"] == f"/stored/{KEY}"
        assert "X-Ricalco-Presigned" not in told.headers
    else:
        assert told.headers["X-Accel-Redirect"] == "/stored-in-bucket"
        assert urlsplit(told.headers["X-Ricalco-Presigned"]).path == f"/files/{KEY}"


def test_who_comes_past_the_proxy_gets_the_file_from_the_service(storage: Storage) -> None:
    assert asked(storage, "proxy") is None


def test_a_browser_is_sent_to_the_bucket_for_a_minute(storage: Storage) -> None:
    told = asked(storage, "bucket", Sec_Fetch_Mode="navigate")
    if storage.presigned(KEY, SHOWN, outside=True) is None:
        assert told is None
        return
    assert told is not None
    assert (told.status_code, told.headers["Cache-Control"]) == (307, "private, no-store")
    assert "X-Amz-Expires=60" in told.headers["Location"]


@pytest.mark.parametrize("mode", ["cors", "no-cors", "same-origin"])
def test_scripts_and_pictures_of_a_page_are_sent_the_file(storage: Storage, mode: str) -> None:
    """The page's content policy lets it load from no other origin."""
    assert asked(storage, "bucket", Sec_Fetch_Mode=mode) is None


def test_a_head_is_answered_by_the_service(storage: Storage) -> None:
    """An address is signed for one method."""
    assert asked(storage, "bucket", method="HEAD") is None
