"""A call that will go says so by RFC 9745 and RFC 8594, on answers and refusals alike."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.http.answers import problems
from service.http.answers.deprecation import announce_deprecations, deprecated
from service.http.resources import Resources
from service.openapi import make_document
from worker.errors import NotFound

#: The example of RFC 9745, 2.1: 30 June 2023, 23:59:59 UTC.
SINCE = datetime(2023, 6, 30, 23, 59, 59, tzinfo=UTC)
#: The example of RFC 8594, 3.
SUNSET = datetime(2018, 12, 31, 23, 59, 59, tzinfo=UTC).replace(year=2024)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[FlaskClient]:
    """A service with a call that goes and one that stays."""
    app = Flask("test", root_path=str(tmp_path), static_folder=None)
    problems.register(app)
    announce_deprecations(app)
    document = make_document(app)
    things = Resources("things", __name__, url_prefix="/v1/things")

    @things.get("")
    @deprecated(since=SINCE, sunset=SUNSET, instead="/v2/things")
    @things.response(200, {"type": "string"})
    def list_things() -> str:
        """List things."""
        return "none"

    @things.get("/gone")
    @deprecated(since=SINCE)
    def get_thing() -> str:
        """Show a thing."""
        raise NotFound("No.")

    @things.get("/new")
    def list_new_things() -> str:
        """List things anew."""
        return "none"

    document.register_blueprint(things)
    return app.test_client()


def test_the_headers_are_as_the_rfcs_write_them(client: FlaskClient) -> None:
    headers = client.get("/v1/things").headers
    # RFC 9745, 2: a structured field's date (RFC 9651), its example.
    assert headers["Deprecation"] == "@1688169599"
    assert parsedate_to_datetime(headers["Sunset"]) == SUNSET
    assert headers["Sunset"].endswith(" GMT")
    assert headers["Link"] == '</v2/things>; rel="successor-version"'


def test_a_refusal_says_it_too(client: FlaskClient) -> None:
    answer = client.get("/v1/things/gone")
    assert (answer.status_code, answer.headers["Deprecation"]) == (404, "@1688169599")
    assert "Sunset" not in answer.headers


def test_other_calls_say_nothing(client: FlaskClient) -> None:
    assert not {"Deprecation", "Sunset"} & set(client.get("/v1/things/new").headers.keys())


def test_the_document_marks_the_call(client: FlaskClient) -> None:
    document = client.get("/v1/openapi.json").get_json()
    assert document["paths"]["/v1/things"]["get"]["deprecated"] is True
    assert "deprecated" not in document["paths"]["/v1/things/new"]["get"]


def test_no_call_goes_before_it_is_deprecated() -> None:
    with pytest.raises(ValueError, match="before"):
        deprecated(since=SUNSET, sunset=SINCE)
