"""A parameter that a call does not know is refused, with its name, before the view is called."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.http.requests.queries import names_of
from service.runtime.context import EXTENSION
from tests.folded import fold
from worker.settings import Settings

PAGE = Path(__file__).resolve().parents[5] / "client" / "web"
CASES = [
    # The address, and the parameters at fault: none of these calls knows them.
    ("/healthz?x=1", {"x"}),
    ("/v1/sheet-formats?limit=5", {"limit"}),
    ("/v1/openapi.json?format=yaml", {"format"}),
    ("/v1/test-page.pdf?Format=iso_a4_210x297mm", {"Format"}),
    ("/v1/test-page.pdf?format=iso_a4_210x297mm&format=iso_a3_297x420mm", {"format"}),
    ("/v1/printers?a&b=", {"a", "b"}),
]


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path_factory.mktemp("data"), page_dir=PAGE))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@fold(("case", CASES))
def test_what_a_call_does_not_know_is_named(
    client: FlaskClient, case: tuple[str, set[str]]
) -> None:
    path, at_fault = case
    answer = client.get(path)
    assert (answer.status_code, answer.json["code"]) == (422, "request-invalid"), answer.text
    assert set(answer.json["fields"]) == at_fault
    assert answer.json["field"] in at_fault


def test_who_misspells_is_told_what_the_call_knows(client: FlaskClient) -> None:
    answer = client.get("/v1/test-page.pdf?sheet=iso_a4_210x297mm")
    assert answer.json["detail"].endswith("It knows: format, language.")


def test_what_is_known_goes_through(client: FlaskClient) -> None:
    answer = client.head("/v1/test-page.pdf?format=iso_a4_210x297mm")
    assert answer.status_code == 200


def test_nothing_is_made_by_a_request_that_is_refused(client: FlaskClient) -> None:
    refused = client.post("/v1/printers?dry=1", json={"name": "Attic", "format": "na_letter"})
    assert refused.status_code == 422
    assert client.get("/v1/printers").json["items"] == []


def test_a_link_to_the_page_may_carry_what_others_added(client: FlaskClient) -> None:
    assert client.get("/?utm_source=mail").status_code == 200


def test_every_view_that_reads_the_query_says_so(app: Flask) -> None:
    """Else the check would refuse what the view knows."""
    assert names_of(app.view_functions["batches.get_print_run"]) == {"covers"}
    assert names_of(app.view_functions["references.create_reference"]) >= {"student_id"}
