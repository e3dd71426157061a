"""Bodies in all their forms, and what may be added to them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from service.contract.schemas import nodes

Json = dict[str, Any]


def parameters(contract: Json) -> Iterator[Json]:
    for methods in contract["paths"].values():
        for part in methods.values():
            yield from part if isinstance(part, list) else part.get("parameters", ())


def content(contract: Json, path: str) -> set[str]:
    return set(contract["paths"][path]["post"]["requestBody"]["content"])


def test_a_table_is_a_body_too(contract: Json) -> None:
    every = {"application/json", "text/csv", "text/plain"}
    assert content(contract, "/v1/classes/{class_id}/students") == every
    assert content(contract, "/v1/classes/{class_id}/batches") == every
    assert content(contract, "/v1/references") == {"multipart/form-data"}
    assert content(contract, "/v1/packs") == {"application/json"}


def test_json_has_no_field_that_only_a_bare_table_fills(contract: Json) -> None:
    assert set(contract["components"]["schemas"]["Roster"]["properties"]) == {"names", "text"}


def test_every_parameter_is_described_and_none_is_null(contract: Json) -> None:
    found = list(parameters(contract))
    assert [one["name"] for one in found if not one.get("description")] == []
    assert [one["name"] for one in found if isinstance(one["schema"]["type"], list)] == []


def test_what_is_refused_is_said_to_be_refused(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    for name in ("PackRequest", "Spec", "SpecPatch", "NewClass", "BatchRequest", "Upload"):
        assert schemas[name]["additionalProperties"] is False


def test_answers_may_have_more_fields_in_time(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    for name in ("Pack", "Plan", "Piece", "Class", "Batch", "Problem"):
        assert not [one for one in nodes(schemas[name]) if one.get("additionalProperties") is False]
