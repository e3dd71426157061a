"""Blueprints with strict parsing: schemas on the views load requests and dump responses.

They extend those of flask-smorest. Bodies that its parser would accept leniently are parsed
strictly, and its errors are replaced by the project's own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NoReturn, cast

import flask
from flask_smorest import Blueprint  # type: ignore[import-untyped]  # It has no types.
from marshmallow import Schema, ValidationError
from webargs.flaskparser import FlaskParser
from werkzeug.datastructures import FileStorage
from werkzeug.exceptions import RequestEntityTooLarge

from service.http.documented import (
    BINARY,
    FILE_HEADERS,
    MADE_FILE_HEADERS,
    REFUSES,
    SENDS_FILE,
    TAG_HEADERS,
    TAGGED,
    codes_of,
)
from service.http.errors import BodyTooLarge, BodyType, KeyInvalid, RequestInvalid
from service.http.requests.bodies import MAX_JSON_BYTES, MULTIPART_ROOM_BYTES, read_json
from worker.errors import ReferenceTooLarge, RicalcoError
from worker.spec.json import flatten, spec_invalid
from worker.store.files.disk import translated_full_disk

#: Media types of a table, saved from a spreadsheet or pasted.
TABLES = frozenset({"text/csv", "text/plain"})
MAX_TABLE_BYTES = 1_000_000
View = Callable[..., Any]
Decorator = Callable[[View], View]


class StrictParser(FlaskParser):
    """Parses requests for the schemas, and raises the project's errors."""

    def load_json(self, req: flask.Request, schema: Schema) -> Any:
        """The JSON object in the body, or, for a schema with a `table`, the bare table.

        A schema with larger bodies than others sets `max_json_bytes`.
        """
        if req.mimetype in TABLES and "table" in schema.fields:
            return {"table": _bytes(req, MAX_TABLE_BYTES)}
        if req.mimetype != "application/json":
            raise BodyType("Send the body as application/json.")
        return read_json(_bytes(req, getattr(schema, "max_json_bytes", MAX_JSON_BYTES)))

    def load_files(self, req: flask.Request, schema: Schema) -> Any:
        """The one photo in the form."""
        if req.mimetype != "multipart/form-data":
            raise BodyType("Send the photo as multipart/form-data, in the field file.")
        found: dict[str, FileStorage] = {}
        for name, part in _parts(req):
            if name in found:
                raise _wrong(name, "Send one photo at a time.")
            found[name] = part
        for name in req.form:
            if name in schema.fields and name not in found:
                raise _wrong(name, "Send the photo as a file, with a file name.")
            raise _wrong(name, "Unknown field.")
        return found

    def handle_error(
        self,
        error: ValidationError,
        req: flask.Request,  # noqa: ARG002
        schema: Schema,  # noqa: ARG002
        *,
        error_status_code: int | None,  # noqa: ARG002
        error_headers: Any,  # noqa: ARG002
    ) -> NoReturn:
        """Raise SpecInvalid where only the spec is at fault, else RequestInvalid.

        Fields of a spec have the same names in every request (`support.width_mm`).
        """
        assert isinstance(error.messages, dict)  # noqa: S101 -- webargs puts the location above.
        location, messages = next(iter(error.messages.items()))
        if location == "headers":
            name, sentences = next(iter(flatten(messages).items()))
            raise KeyInvalid(f"{name}: {sentences[0]}", field=name) from error
        if isinstance(messages, dict) and set(messages) == {"spec"}:
            below = messages["spec"]
            if isinstance(below, dict):
                raise spec_invalid(below) from error
        raise request_invalid(flatten(messages)) from error


class Resources(Blueprint):  # type: ignore[misc]  # Its base has no types; ours follow.
    """A blueprint with strict parsing and typed decorators."""

    ARGUMENTS_PARSER = StrictParser()

    def arguments(self, schema: type[Schema], *, location: str = "json") -> Decorator:
        """Read one part of the request by a schema."""
        return cast("Decorator", super().arguments(schema, location=location))

    def response(self, status_code: int, schema: Any = None, **documented: Any) -> Decorator:
        """Dump the response by a schema."""
        return cast("Decorator", super().response(status_code, schema, **documented))

    def alt_response(self, status_code: int, **documented: Any) -> Decorator:
        """Document another response."""
        return cast("Decorator", super().alt_response(status_code, **documented))

    def doc(self, **documented: Any) -> Decorator:
        """Document what neither schema nor signature says."""
        return cast("Decorator", super().doc(**documented))

    def refuses(self, *kinds: type[RicalcoError]) -> Decorator:
        """Document errors of a view that neither its address nor its body tells.

        A family (`SpecError`) stands for all errors below it.
        """
        codes = sorted(code for kind in kinds for code in codes_of(kind))
        return cast("Decorator", super().doc(**{REFUSES: codes}))

    def sends_file(self, *content_types: str, made: bool = False) -> Decorator:
        """Document a file with its entity tag, conditions and ranges: `downloads.files`.

        Args:
            content_types: The types that it may have.
            made: Whether it is made while it is sent, so that it has no checksum.
        """

        def decorate(view: View) -> View:
            headers = MADE_FILE_HEADERS if made else FILE_HEADERS
            sent = self.response(200, BINARY, content_type=content_types[0], headers=headers)
            mark = {SENDS_FILE: list(content_types)}
            return cast("View", super(Resources, self).doc(**mark)(sent(view)))

        return decorate

    def tagged(self, schema: type[Schema]) -> Decorator:
        """Dump a document that has an entity tag: `json_responses.tagged_response`."""

        def decorate(view: View) -> View:
            sent = self.response(200, schema, headers=TAG_HEADERS)
            return cast("View", super(Resources, self).doc(**{TAGGED: True})(sent(view)))

        return decorate

    def get(self, rule: str, **options: Any) -> Decorator:
        """Answer GET and HEAD here."""
        return _with_operation_id(super().get(rule, **options))

    def post(self, rule: str, **options: Any) -> Decorator:
        """Answer POST here."""
        return _with_operation_id(super().post(rule, **options))

    def put(self, rule: str, **options: Any) -> Decorator:
        """Answer PUT here."""
        return _with_operation_id(super().put(rule, **options))

    def patch(self, rule: str, **options: Any) -> Decorator:
        """Answer PATCH here."""
        return _with_operation_id(super().patch(rule, **options))

    def delete(self, rule: str, **options: Any) -> Decorator:
        """Answer DELETE here."""
        return _with_operation_id(super().delete(rule, **options))


def _with_operation_id(register: Decorator) -> Decorator:
    """Document a view under its own name: the `operationId` that generated clients call it by.

    flask-smorest gives operations no `operationId`; what `doc` is given it copies. Flask keeps
    names apart within a blueprint only, so a test holds them apart over the whole document.
    """

    def decorate(view: View) -> View:
        return register(Blueprint.doc(operationId=view.__name__)(view))

    return decorate


def request_invalid(fields: dict[str, list[str]]) -> RequestInvalid:
    """The error that names the fields of a request that are at fault."""
    first, sentences = next(iter(fields.items()))
    detail = f"{first}: {sentences[0]}" if first else sentences[0]
    return RequestInvalid(detail, fields=fields, field=first or None)


def _parts(req: flask.Request) -> list[tuple[str, FileStorage]]:
    """The files of a form; parsing them raises the errors of the body's limits."""
    try:
        with translated_full_disk():
            return list(req.files.items(multi=True))
    except RequestEntityTooLarge as error:
        most = flask.current_app.config["MAX_CONTENT_LENGTH"]
        if (req.content_length or 0) > most:
            detail = f"The photo is too large: at most {most - MULTIPART_ROOM_BYTES:,} bytes."
            raise ReferenceTooLarge(detail, field="file") from error
        raise BodyTooLarge("Send one photo, and nothing else, in the form.") from error


def _wrong(name: str, sentence: str) -> RequestInvalid:
    return request_invalid({name: [sentence]})


def _bytes(req: flask.Request, most: int) -> bytes:
    if (req.content_length or 0) > most:
        raise BodyTooLarge(f"This body may have {most} bytes.")
    req.max_content_length = most
    return req.get_data(cache=True)
