"""No text that is none comes in: into every string of every documented call one is put."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from flask import Flask, Response
from flask.testing import FlaskClient
from werkzeug.test import EnvironBuilder, run_wsgi_app

from service.app import create_app
from service.http.errors import RequestInvalid
from service.http.requests.unicode import check_json, check_query, is_text
from service.runtime.context import EXTENSION
from worker.settings import Settings
from worker.store.ledger import BatchRow, NewPack, ReferenceRow

#: The first and the last half of a surrogate pair (Unicode 3.8, D71 and D72), one inside a
#: text, and NUL.
NO_TEXTS = ("\ud800", "\udfff", "a\udc00b", "a\0b")
Json = dict[str, Any]


@dataclass(frozen=True)
class Service:
    """A service with a tutor, their key, and an id for each that an address may hold."""

    app: Flask
    headers: dict[str, str]
    ids: dict[str, str]
    #: Of a course site, which alone starts sessions.
    site: dict[str, str]

    @property
    def client(self) -> FlaskClient:
        return self.app.test_client()

    @property
    def document(self) -> Json:
        answer = self.client.get("/v1/openapi.json", headers=self.headers)
        return dict(answer.get_json())

    def answer(self, path: str, method: str = "GET", **variables: str) -> Response:
        """The answer to a request of which some variables are set as they are (PEP 3333).

        A client for tests would encode them first; bytes travel as Latin-1 in them.
        """
        environ = EnvironBuilder(path=path, method=method, headers=self.headers).get_environ()
        return Response(*run_wsgi_app(self.app, environ | variables))

    def paths(self) -> Iterator[tuple[str, str, Json]]:
        """Method, address and documentation of every call."""
        for path, calls in self.document["paths"].items():
            for method, call in calls.items():
                if method in {"get", "post", "patch", "put", "delete"}:
                    yield method, path.format(**self.ids), call


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    app = create_app(Settings(data_dir=tmp_path_factory.mktemp("texts")))
    client = app.test_client()
    tutor = client.post("/v1/tutors", json={"name": "Ada"}).get_json()
    headers = {"Authorization": f"Bearer {tutor['key']}"}

    def made(path: str, body: Json) -> Json:
        answer = client.post(path, json=body, headers=headers)
        assert answer.status_code == 201, answer.text
        return dict(answer.get_json())

    ledger, owner_id = app.extensions[EXTENSION].ledger, tutor["person"]["id"]
    photo = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64, owner_id=owner_id)
    reference = ledger.add_reference(photo)
    pack = ledger.enqueue(NewPack(reference_id=reference.id, spec={}, owner_id=owner_id))
    class_ = made("/v1/classes", {"name": "Noon"})
    roster = made(class_["links"]["students"], {"names": ["Kit"]})
    printer = {"name": "Attic", "format": "iso_a4_210x297mm", "across_mm": 199.2}
    batch = BatchRow(class_id=class_["id"], title="")
    site = made("/v1/sites", {"name": "Course"})
    ids = {
        "reference_id": reference.id,
        "pack_id": pack.id,
        "class_id": class_["id"],
        "student_id": roster["items"][0]["id"],
        "printer_id": made("/v1/printers", printer)["id"],
        "site_id": site["site"]["id"],
        "key_id": tutor["key_id"],
        "batch_id": ledger.batches.add(batch, owner_id, []).row.id,
        "code": "not-found",
        "session_id": "ses_" + "A" * 22,
        "webhook_id": made("/v1/webhooks", {"url": "https://course.example/"})["webhook"]["id"],
        "message_id": "msg_" + "A" * 22,
        "tutor_id": tutor["person"]["id"],
        "external_id": "u-1",
        "label": "1-1",
        "sheet_format": "iso_a4_210x297mm",
        "file_name": "pack.pdf",
    }
    yield Service(app, headers, ids, {"Authorization": f"Bearer {site['key']}"})
    ledger.close()


def bodies(document: Json, schema: Json, depth: int = 0) -> Iterator[tuple[str, Any]]:
    """A body for each string that the schema has, with a hole (None) where it stands."""
    if "$ref" in schema:
        # A reference is a path into the document (JSON Pointer, RFC 6901).
        found: Any = document
        for part in schema["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        schema = found
    for one in [*schema.get("oneOf", ()), *schema.get("allOf", ()), *schema.get("anyOf", ())]:
        yield from bodies(document, one, depth)
    kinds = schema.get("type", "object" if "properties" in schema else "")
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if "string" in kinds:
        yield "", None
    if "array" in kinds:
        for path, body in bodies(document, schema["items"], depth + 1):
            yield _joined("0", path), [body]
    for name, below in schema.get("properties", {}).items():
        for path, body in bodies(document, below, depth + 1):
            yield _joined(name, path), {name: body}
    if "object" in kinds and "properties" not in schema:
        # What it holds is open: a text may stand anywhere in it.
        yield "anything", {"anything": None}


def _joined(name: str, path: str) -> str:
    return f"{name}.{path}" if path else name


def filled(body: Any, text: str) -> Any:
    """The body with the text in its hole."""
    if body is None:
        return text
    if isinstance(body, list):
        return [filled(one, text) for one in body]
    return {name: filled(one, text) for name, one in body.items()}


def refused(answer: Any, field: str) -> str:
    """What is wrong with the answer, or nothing: a problem that names the field."""
    if answer.mimetype != "application/problem+json":
        return f"{answer.status_code} {answer.mimetype}"
    problem = answer.get_json()
    if (problem["status"], problem["code"]) != (422, "request-invalid"):
        return f"{problem['status']} {problem['code']}: {problem['detail']}"
    return "" if field in problem["fields"] else f"names {list(problem['fields'])}"


def test_every_string_of_every_body_must_be_text(service: Service) -> None:
    document, wrong, tried = service.document, [], 0
    for method, path, call in service.paths():
        content = call.get("requestBody", {}).get("content", {}).get("application/json")
        # Only where there is no tutor yet may one be made, so the body is not even read.
        if content is None or path == "/v1/tutors":
            continue
        for field, body in bodies(document, content["schema"]):
            for text in NO_TEXTS[::3]:
                answer = service.client.open(
                    path,
                    method=method.upper(),
                    data=json.dumps(filled(body, text)),
                    content_type="application/json",
                    headers=service.site if path == "/v1/sessions" else service.headers,
                )
                fault = refused(answer, field)
                wrong += [f"{method} {path} {field} {text!a}: {fault}"] if fault else []
                tried += 1
    assert not wrong
    assert tried > 140


def test_every_value_of_every_query_must_be_text(service: Service) -> None:
    wrong, tried = [], 0
    for method, path, call in service.paths():
        queries = [one["name"] for one in call.get("parameters", ()) if one["in"] == "query"]
        for name in queries:
            # NUL; half of a pair as UTF-8 would write it (RFC 3629, 3, forbids it); a byte
            # that is none of UTF-8's, in figures and bare.
            for value in ("%00", "%ed%a0%80", "%ff", "\xff"):
                answer = service.answer(path, method.upper(), QUERY_STRING=f"{name}={value}")
                fault = refused(answer, name if value == "%00" else "")
                wrong += [f"{method} {path}?{name}={value!a}: {fault}"] if fault else []
                tried += 1
    assert not wrong
    assert tried >= 16


@pytest.mark.parametrize("name", ["COOKIE", "AUTHORIZATION", "LAST_EVENT_ID", "IF_NONE_MATCH"])
def test_a_header_may_hold_any_bytes(service: Service, name: str) -> None:
    for value in ("ricalco_key=\xff", "Bearer \xed\xa0\x80", "\xff", '"\xff"', "Basic /w=="):
        for path in ("/v1/me", f"/v1/packs/{service.ids['pack_id']}/events", "/v1/supports"):
            answer = service.answer(path, **{f"HTTP_{name}": value})
            assert answer.status_code < 500, f"{name}: {value!a} at {path}"
            answer.close()


def test_texts_are_told_from_what_is_none() -> None:
    assert is_text("静 é \U0001f58c \n\t")
    assert not any(is_text(text) for text in NO_TEXTS)


def test_whole_characters_pass() -> None:
    # A pair, escaped as JSON escapes it, is one character (RFC 8259, 7).
    check_json(json.loads('{"a": ["\\ud83d\\udd8c", {"b": "x"}, 1, null]}'))
    check_query(b"code=%F0%9F%96%8C&covers=true&&x")


def test_the_field_is_named() -> None:
    with pytest.raises(RequestInvalid) as told:
        check_json({"items": [{"note": "x"}, {"note": "\ud800"}]})
    assert told.value.field == "items.1.note"
    # A name that is no text cannot be written into an answer: what it stands in is named.
    with pytest.raises(RequestInvalid) as told:
        check_json({"spec": {"\ud800": 1}})
    assert list(told.value.fields) == ["spec"]
