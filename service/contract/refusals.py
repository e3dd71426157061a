"""The refusals of each operation: every status that it can answer with, and its codes.

Most follow from what an operation is: one with an id in its address may find nothing, one with
a body may be sent another. What only the view knows it says itself (`Resources.refuses`).
"""

from __future__ import annotations

from collections import defaultdict
from http import HTTPStatus
from typing import Any

from service.http.answers.problems import MEDIA_TYPE, WORDS, document, status_of
from service.http.answers.rate_limits import RATE_HEADERS
from service.http.documented import REFUSES, SENDS_FILE, codes_of
from worker import errors

#: Any request can meet these, whatever it asks for.
_ALWAYS = frozenset(
    {"bad-request", "host-refused", "origin-refused", "request-timeout", "headers-too-large"}
    | {"request-invalid", "internal-error", "busy", "storage-unavailable"}
    | {"ledger-unavailable", "ledger-damaged"}
)
_NEEDS_KEY = frozenset({"key-missing", "key-unknown", "not-allowed"})
#: Of a course site, or a student in a session of one, which may ask for anything.
_SITE_OR_SESSION = frozenset({"scope-missing", "site-expired", "session-ended"})
_HAS_BODY = frozenset({"body-unreadable", "body-too-large", "body-type", "request-invalid"})
_IDEMPOTENT = frozenset(
    {"idempotency-key-invalid", "idempotency-key-reused", "idempotency-key-in-progress"}
)
_WRITES = frozenset({"storage-full"})
_SPEC = frozenset(codes_of(errors.SpecError)) - {"size-unreadable", "corners-unusable"}
_RETRY = {"schema": {"type": "integer"}, "description": "Seconds after which to try again."}
_WAIT = frozenset({429, 503, 507})
Json = dict[str, Any]


def add_refusals(contract: Json) -> None:
    """Put all refusals of every operation into the document."""
    components = contract["components"]
    components["examples"] = {code: _example(code) for code in sorted(WORDS)}
    shared = _Shared(components.setdefault("responses", {}))
    for path, method, operation in operations(contract):
        codes = codes_for(contract, path, method, operation)
        responses = {
            status: answer
            for status, answer in operation["responses"].items()
            if str(status).isdigit() and int(status) < HTTPStatus.BAD_REQUEST
        }
        by_status: dict[int, list[str]] = defaultdict(list)
        for code in sorted(codes):
            by_status[status_of(code)].append(code)
        for status in sorted(by_status):
            responses[str(status)] = shared.reference(status, tuple(by_status[status]))
        operation["responses"] = responses
        operation.pop(REFUSES, None)


def operations(contract: Json) -> list[tuple[str, str, Json]]:
    """Path, method and operation of everything in the document."""
    return [
        (path, method, operation)
        for path, methods in contract["paths"].items()
        for method, operation in methods.items()
        if method != "parameters"
    ]


def codes_for(contract: Json, path: str, method: str, operation: Json) -> set[str]:
    """Every code that an operation can be refused with."""
    codes = set(_ALWAYS) | set(operation.get(REFUSES, ()))
    if operation.get("security") != []:
        codes |= _NEEDS_KEY | _SITE_OR_SESSION
    if "{" in path:
        codes.add("not-found")
    if "requestBody" in operation:
        codes |= _HAS_BODY
        codes |= _SPEC if _takes_spec(contract, operation) else set()
    if any(one.get("name") == "Idempotency-Key" for one in operation.get("parameters", ())):
        codes |= _IDEMPOTENT
    if method != "get":
        codes |= _WRITES
    if operation.get(SENDS_FILE):
        codes.add("requested-range-not-satisfiable")
    return codes


def _takes_spec(contract: Json, operation: Json) -> bool:
    """Whether the body has a whole spec in it."""
    for kind in operation["requestBody"]["content"].values():
        name = kind["schema"].get("$ref", "").rpartition("/")[2]
        found = contract["components"]["schemas"].get(name, {}).get("properties", {})
        if "spec" in found:
            return True
    return False


class _Shared:
    """Answers that several operations have alike stand in the document once."""

    def __init__(self, responses: Json) -> None:
        self._responses = responses
        self._names: dict[tuple[str, ...], str] = {}
        self._count: dict[int, int] = defaultdict(int)

    def reference(self, status: int, codes: tuple[str, ...]) -> Json:
        """A reference to the answer with this status and these codes."""
        if codes not in self._names:
            self._count[status] += 1
            word = HTTPStatus(status).phrase.title().replace(" ", "").replace("-", "")
            number = self._count[status]
            self._names[codes] = word if number == 1 else f"{word}{number}"
            self._responses[self._names[codes]] = _answer(status, codes)
        return {"$ref": f"#/components/responses/{self._names[codes]}"}


def _answer(status: int, codes: tuple[str, ...]) -> Json:
    lines = "\n".join(f"- `{code}`: {WORDS[code]['title']}" for code in codes)
    examples = {code: {"$ref": f"#/components/examples/{code}"} for code in codes}
    schema = {"$ref": "#/components/schemas/Problem"}
    answer: Json = {
        "description": f"{HTTPStatus(status).phrase}.\n\n{lines}",
        "content": {MEDIA_TYPE: {"schema": schema, "examples": examples}},
    }
    if status in _WAIT or "idempotency-key-in-progress" in codes:
        answer["headers"] = {"Retry-After": _RETRY}
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        answer["headers"] |= RATE_HEADERS
    if status == HTTPStatus.UNAUTHORIZED:
        scheme = {"schema": {"type": "string"}, "description": "`Bearer` (RFC 6750, 3)."}
        answer["headers"] = {"WWW-Authenticate": scheme}
    return answer


def _example(code: str) -> Json:
    words = WORDS[code]
    problem = document(status_of(code), code, words["advice"])
    return {"summary": words["title"], "value": problem}
