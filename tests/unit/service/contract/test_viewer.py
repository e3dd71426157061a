"""The page that shows the document: the service's own files, no other host, or how to add it."""

from __future__ import annotations

import gzip
import importlib.util
import re

import pytest
from flask import Flask

from service.contract import viewer


def test_the_page_loads_files_of_the_service_alone(service: Flask) -> None:
    client = service.test_client()
    page = client.get("/v1/docs")
    assert (page.status_code, page.mimetype) == (200, "text/html")
    named = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert len(named) == 3
    for path in named:
        found = client.get(path, headers={"Accept-Encoding": "gzip"})
        assert found.status_code == 200
        assert len(gzip.decompress(found.data)) > 50
    policy = page.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


def test_it_asks_nobody_to_judge_the_document(service: Flask) -> None:
    """Swagger UI's own default is a validator on another host (its setting `validatorUrl`)."""
    script = service.test_client().get("/v1/docs/start.js").text
    assert "validatorUrl: null" in script
    assert '"/v1/openapi.json"' in script


def test_a_browser_that_has_a_file_gets_no_second_one(service: Flask) -> None:
    client = service.test_client()
    first = client.get("/v1/docs/swagger-ui.css")
    again = client.get("/v1/docs/swagger-ui.css", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


def test_other_files_of_the_package_are_not_sent(service: Flask) -> None:
    for name in ("index.html", "oauth2-redirect.html", "../__init__.py"):
        assert service.test_client().get(f"/v1/docs/{name}").status_code == 404


def test_without_the_extra_it_says_how_to_add_it(
    service: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        viewer, "find_spec", lambda name: None if name == viewer.PACKAGE else real(name)
    )
    answer = service.test_client().get("/v1/docs")
    assert (answer.status_code, answer.json["code"]) == (404, "not-found")
    assert "ricalco[docs]" in answer.json["detail"]
