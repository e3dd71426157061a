"""Who reads the document alone learns who may ask, what comes back, and by which headers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from flask import Flask

from service.contract.bodies import BARE
from service.contract.spec_patch import MARK
from service.http.documented import REFUSES, SENDS_FILE

Json = dict[str, Any]


def operations(contract: Json) -> Iterator[Json]:
    for methods in contract["paths"].values():
        yield from (one for method, one in methods.items() if method != "parameters")


def test_it_says_where_the_service_is(contract: Json) -> None:
    """OpenAPI 3.1.0, 4.8.5: a relative address is one beside the document's own."""
    assert contract["servers"] == [
        {"url": "/", "description": "The service that sent this document."}
    ]


def test_every_operation_is_described_and_says_who_may_ask(contract: Json) -> None:
    for operation in operations(contract):
        assert operation["summary"].endswith((".", ":")), operation
        assert "ay ask" in operation["description"], operation["operationId"]


def test_who_may_ask_is_what_the_rules_say(contract: Json) -> None:
    paths = contract["paths"]
    assert paths["/v1/sites"]["post"]["description"].endswith("May ask: a tutor.")
    assert "Anyone may ask" in paths["/v1/join"]["get"]["description"]


def test_no_mark_of_ours_is_left(contract: Json) -> None:
    def names(part: Any) -> Iterator[str]:
        for value in part.values() if isinstance(part, dict) else part:
            if isinstance(value, dict | list):
                yield from names(value)
        yield from part if isinstance(part, dict) else ()

    assert not {REFUSES, SENDS_FILE, MARK, BARE} & set(names(contract))


def test_files_come_in_parts_and_not_twice(contract: Json) -> None:
    """RFC 9110: 206 (15.3.7), 304 (15.4.5) and 416 (15.5.17)."""
    sent = contract["paths"]["/v1/packs/{pack_id}/pack.pdf"]["get"]
    assert {"200", "206", "304", "416"} <= set(sent["responses"])
    assert set(sent["responses"]["200"]["headers"]) >= {"ETag", "Content-Disposition"}
    assert {"Range", "If-None-Match"} <= {one["name"] for one in sent["parameters"]}


def test_what_was_made_says_where_it_is(contract: Json) -> None:
    for operation in operations(contract):
        names = {one["name"] for one in operation.get("parameters", ())}
        if "Idempotency-Key" in names:
            made = operation["responses"].get("201") or operation["responses"]["202"]
            assert "Location" in made["headers"]


def test_whoever_has_the_document_gets_no_second_one(service: Flask) -> None:
    client = service.test_client()
    first = client.get("/v1/openapi.json")
    again = client.get("/v1/openapi.json", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
