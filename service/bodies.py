"""Request bodies: read strictly, within bounds, before any schema sees them.

JSON bodies here are small; whatever is larger, deeper or not JSON is refused with a
reason. Photos go to a file on the data volume as they come in, so that memory does not
grow with uploads and a full temporary folder does not matter.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any, NoReturn, cast

import flask
from flask_smorest import Blueprint  # type: ignore[import-untyped]  # It has no types.
from marshmallow import Schema, ValidationError
from webargs.flaskparser import FlaskParser
from werkzeug.datastructures import FileStorage
from werkzeug.exceptions import RequestEntityTooLarge

from service.errors import BodyTooLarge, BodyType, BodyUnreadable, KeyInvalid, RequestInvalid
from worker.contract import flatten, spec_invalid
from worker.errors import ReferenceTooLarge
from worker.storage.disk import errors_told, full_told

#: A spec with fifty protected areas takes some 5 kB.
MAX_JSON_BYTES = 100_000
#: A spec nests four deep inside a request.
MAX_JSON_DEPTH = 12
#: What multipart adds around the photo.
MULTIPART_ROOM_BYTES = 64_000
#: One photo is all that a form may hold; what else comes is read only to say so.
MAX_FORM_PARTS = 10
#: The parser reads blocks of 64 kB; below that it would refuse photos too.
MAX_FORM_MEMORY_BYTES = 200_000
#: Photos up to this size stay in memory while they come in.
IN_MEMORY_BYTES = 500_000
SPOOL_FOLDER = "RICALCO_SPOOL_FOLDER"
View = Callable[..., Any]
Decorator = Callable[[View], View]


class Request(flask.Request):
    """A request whose files are spooled onto the data volume."""

    def _get_file_stream(
        self,
        total_content_length: int | None,  # noqa: ARG002 -- The signature is the base's.
        content_type: str | None,  # noqa: ARG002
        filename: str | None = None,  # noqa: ARG002
        content_length: int | None = None,  # noqa: ARG002
    ) -> IO[bytes]:
        folder = str(flask.current_app.config[SPOOL_FOLDER])
        spooled = tempfile.SpooledTemporaryFile(  # noqa: SIM115 -- The request closes it.
            max_size=IN_MEMORY_BYTES, dir=folder
        )
        # It does all that a file does, and has been typed as one only since Python 3.11.
        return cast("IO[bytes]", spooled)


class StrictParser(FlaskParser):
    """Reads bodies for the schemas and tells what is wrong in our own errors."""

    def load_json(self, req: flask.Request, schema: Schema) -> Any:  # noqa: ARG002
        """The JSON object in the body."""
        if req.mimetype != "application/json":
            raise BodyType("Send the body as application/json.")
        return read_json(_bytes(req))

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
        """Faults of the spec alone are told as the spec's, others as the request's.

        A spec names its own fields (`support.width_mm`) wherever it came from.
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
    """A blueprint whose bodies are read strictly, and whose decorators have types."""

    ARGUMENTS_PARSER = StrictParser()

    def arguments(self, schema: type[Schema], *, location: str = "json") -> Decorator:
        """Read one part of the request by a schema."""
        return cast("Decorator", super().arguments(schema, location=location))

    def response(self, status_code: int, schema: Any = None, **documented: Any) -> Decorator:
        """Write the answer by a schema."""
        return cast("Decorator", super().response(status_code, schema, **documented))

    def alt_response(self, status_code: int, **documented: Any) -> Decorator:
        """Document another answer."""
        return cast("Decorator", super().alt_response(status_code, **documented))

    def get(self, rule: str, **options: Any) -> Decorator:
        """Answer GET and HEAD here."""
        return cast("Decorator", super().get(rule, **options))

    def post(self, rule: str, **options: Any) -> Decorator:
        """Answer POST here."""
        return cast("Decorator", super().post(rule, **options))

    def delete(self, rule: str, **options: Any) -> Decorator:
        """Answer DELETE here."""
        return cast("Decorator", super().delete(rule, **options))


def request_invalid(fields: dict[str, list[str]]) -> RequestInvalid:
    """The error that tells which fields of a request are at fault."""
    first, sentences = next(iter(fields.items()))
    detail = f"{first}: {sentences[0]}" if first else sentences[0]
    return RequestInvalid(detail, fields=fields, field=first or None)


def _parts(req: flask.Request) -> list[tuple[str, FileStorage]]:
    """The files of a form; reading them is what meets the limit of the body."""
    try:
        with full_told():
            return list(req.files.items(multi=True))
    except RequestEntityTooLarge as error:
        most = flask.current_app.config["MAX_CONTENT_LENGTH"]
        if (req.content_length or 0) > most:
            detail = f"The photo is too large: at most {most - MULTIPART_ROOM_BYTES:,} bytes."
            raise ReferenceTooLarge(detail, field="file") from error
        raise BodyTooLarge("Send one photo, and nothing else, in the form.") from error


def _wrong(name: str, sentence: str) -> RequestInvalid:
    return request_invalid({name: [sentence]})


def _bytes(req: flask.Request) -> bytes:
    if (req.content_length or 0) > MAX_JSON_BYTES:
        raise BodyTooLarge(f"A JSON body may have {MAX_JSON_BYTES} bytes.")
    req.max_content_length = MAX_JSON_BYTES
    return req.get_data(cache=True)


def read_json(body: bytes) -> dict[str, Any]:
    """A JSON object (RFC 8259): no NaN, no infinity, not too deep, no name twice.

    Raises:
        BodyUnreadable: It is anything else.
    """
    try:
        text = body.decode()
        found = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_no_doubles)
    except (ValueError, RecursionError) as error:
        raise BodyUnreadable("The body is no JSON that can be read (RFC 8259).") from error
    if not isinstance(found, dict):
        sentence = "The body must be a JSON object."
        raise RequestInvalid(sentence, fields={"": [sentence]})
    if _depth(found) > MAX_JSON_DEPTH:
        raise BodyUnreadable("The body nests deeper than any request needs.")
    return found


def _no_constant(word: str) -> NoReturn:
    raise ValueError(word)


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _depth(value: Any) -> int:
    """How deep lists and objects nest; without recursion, since it bounds recursion."""
    depth, level = 0, [value]
    while level:
        depth += 1
        below: list[Any] = []
        for one in level:
            if isinstance(one, dict):
                below.extend(one.values())
            elif isinstance(one, list):
                below.extend(one)
        level = [one for one in below if isinstance(one, dict | list)]
    return depth


def limit_bodies(app: flask.Flask, *, max_upload_bytes: int, spool: Path) -> None:
    """Bound what `app` reads and say where large parts wait.

    Raises:
        FolderNotWritable: They cannot wait there.
    """
    with errors_told(spool):
        spool.mkdir(parents=True, exist_ok=True)
    app.request_class = Request
    app.config[SPOOL_FOLDER] = spool
    app.config["MAX_CONTENT_LENGTH"] = max_upload_bytes + MULTIPART_ROOM_BYTES
    app.config["MAX_FORM_PARTS"] = MAX_FORM_PARTS
    app.config["MAX_FORM_MEMORY_SIZE"] = MAX_FORM_MEMORY_BYTES
