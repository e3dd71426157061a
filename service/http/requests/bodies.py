"""Request bodies: read strictly, within bounds, before any schema sees them.

JSON bodies here are small: one that is larger, nests deeper or is not JSON is refused with a
reason. Photos are written to a file on the data volume as they arrive, so that memory does
not grow with uploads and a full temporary folder does not matter.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import IO, Any, NoReturn, cast

import flask

from service.http.errors import BodyUnreadable, RequestInvalid
from service.http.requests.unicode import check_json
from worker.store.files.disk import translated_errors
from worker.store.files.privacy import close_all_to_others, make_private_folder

#: A spec with fifty protected areas takes some 5 kB.
MAX_JSON_BYTES = 100_000
#: A spec nests four deep inside a request.
MAX_JSON_DEPTH = 12
#: Bytes that multipart adds to the photo.
MULTIPART_ROOM_BYTES = 64_000
#: A form may have one photo; other parts are parsed only to name them in the error.
MAX_FORM_PARTS = 10
#: The parser reads blocks of 64 kB; with a smaller limit it would refuse photos too.
MAX_FORM_MEMORY_BYTES = 200_000
#: Photos up to this size are kept in memory while they arrive.
IN_MEMORY_BYTES = 500_000
SPOOL_FOLDER = "RICALCO_SPOOL_FOLDER"


class Request(flask.Request):
    """A request that writes uploaded files to the data volume."""

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
        # It has all methods of a file; typeshed declares that only for Python 3.11 and later.
        return cast("IO[bytes]", spooled)


def read_json(body: bytes) -> dict[str, Any]:
    """A JSON object (RFC 8259): no NaN, no infinity, not too deep, no name twice.

    Raises:
        BodyUnreadable: It is anything else.
        RequestInvalid: It is JSON but no object, or has a string that is no valid text.
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
    check_json(found)
    return found


def _no_constant(word: str) -> NoReturn:
    raise ValueError(word)


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _depth(value: Any) -> int:
    """How deep lists and objects nest; counted without recursion, which it guards."""
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
    """Limit the bodies that `app` reads, and set the folder for uploads.

    Raises:
        FolderNotWritable: Nothing can be written there.
    """
    with translated_errors(spool):
        make_private_folder(spool)
    close_all_to_others(spool)
    app.request_class = Request
    app.config[SPOOL_FOLDER] = spool
    app.config["MAX_CONTENT_LENGTH"] = max_upload_bytes + MULTIPART_ROOM_BYTES
    app.config["MAX_FORM_PARTS"] = MAX_FORM_PARTS
    app.config["MAX_FORM_MEMORY_SIZE"] = MAX_FORM_MEMORY_BYTES
