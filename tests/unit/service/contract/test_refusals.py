"""Each refusal is in the document with its status and its codes."""

from __future__ import annotations

from typing import Any

from service.http.answers.problems import CODES
from tests.folded import fold

Json = dict[str, Any]
#: From the descriptions of the calls in README.md and of the HTTP standards, not from the views.
EXPECTED = [
    ("POST /v1/references", 409, {"limit-reached", "class-closed", "idempotency-key-in-progress"}),
    ("POST /v1/references", 413, {"reference-too-large", "body-too-large"}),
    ("POST /v1/references", 415, {"reference-type", "body-type"}),
    ("POST /v1/packs", 409, {"too-many-unfinished", "limit-reached"}),
    ("POST /v1/packs", 410, {"reference-gone"}),
    ("POST /v1/packs", 422, {"spec-invalid", "crop-outside", "request-invalid"}),
    ("POST /v1/packs", 401, {"key-missing", "key-unknown"}),
    ("POST /v1/packs", 507, {"storage-full"}),
    ("GET /v1/packs/{pack_id}", 404, {"not-found"}),
    ("GET /v1/packs/{pack_id}/pack.pdf", 409, {"pack-not-ready"}),
    ("GET /v1/packs/{pack_id}/pack.pdf", 416, {"requested-range-not-satisfiable"}),
    ("POST /v1/join", 429, {"too-many-tries"}),
    ("POST /v1/join", 409, {"joining-closed", "name-taken", "not-on-roster"}),
    ("GET /readyz", 503, {"not-ready"}),
]


def answer_of(contract: Json, call: str, status: int) -> Json:
    method, path = call.split()
    reference = contract["paths"][path][method.lower()]["responses"][str(status)]["$ref"]
    return dict(contract["components"]["responses"][reference.rpartition("/")[2]])


@fold(("call, status, codes", EXPECTED))
def test_a_refusal_names_its_codes(contract: Json, call: str, status: int, codes: set[str]) -> None:
    answer = answer_of(contract, call, status)
    told = answer["content"]["application/problem+json"]
    assert told["schema"] == {"$ref": "#/components/schemas/Problem"}
    assert codes <= set(told["examples"])
    assert all(f"`{code}`" in answer["description"] for code in codes)


def test_every_code_is_in_the_enum(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    assert set(schemas["Problem"]["properties"]["code"]["enum"]) == set(CODES)
    assert set(schemas["Failure"]["properties"]["code"]["enum"]) == set(CODES)


def test_who_must_wait_is_told_so_in_a_header(contract: Json) -> None:
    for status in (429, 503, 507):
        answer = answer_of(contract, "POST /v1/join", status)
        assert answer["headers"]["Retry-After"]["schema"] == {"type": "integer"}


def test_who_needs_a_key_is_told_the_scheme(contract: Json) -> None:
    """RFC 9110, 11.6.1: a 401 has WWW-Authenticate."""
    assert "WWW-Authenticate" in answer_of(contract, "GET /v1/me", 401)["headers"]


def test_what_needs_no_key_asks_for_none(contract: Json) -> None:
    assert "401" not in contract["paths"]["/healthz"]["get"]["responses"]


def test_examples_are_problems_with_the_status_that_they_stand_at(contract: Json) -> None:
    examples = contract["components"]["examples"]
    for answer in contract["components"]["responses"].values():
        (content,) = answer["content"].values()
        statuses = {examples[code]["value"]["status"] for code in content["examples"]}
        assert len(statuses) == 1
