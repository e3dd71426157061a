"""Where a generated id is well formed, the id of something that is there stands in for it.

Otherwise every answer would be 404. Loaded by the generator of requests; see test_openapi.
Calls that delete keep their generated ids.
"""

from __future__ import annotations

import os
import re
import uuid
from typing import Any

import schemathesis

KEY = re.compile(r"[\x21-\x7e]{1,255}")
KNOWN = {
    "reference_id": (re.compile(r"ref_[A-Za-z0-9_-]{16,60}"), os.environ["KNOWN_REFERENCE"]),
    "pack_id": (re.compile(r"pck_[A-Za-z0-9_-]{16,60}"), os.environ["KNOWN_PACK"]),
    "class_id": (re.compile(r"cls_[A-Za-z0-9_-]{16,60}"), os.environ["KNOWN_CLASS"]),
    "student_id": (re.compile(r"stu_[A-Za-z0-9_-]{16,60}"), os.environ["KNOWN_STUDENT"]),
    "printer_id": (re.compile(r"prn_[A-Za-z0-9_-]{16,60}"), os.environ["KNOWN_PRINTER"]),
    "label": (re.compile(r"[1-9][0-9]{0,3}-[1-9][0-9]{0,3}"), "1-1"),
}


def put_known(place: Any) -> Any:
    """The same parameters, with ids of what is there."""
    if isinstance(place, dict):
        for name, (pattern, value) in KNOWN.items():
            if isinstance(place.get(name), str) and pattern.fullmatch(place[name]):
                place[name] = value
    return place


@schemathesis.hook
def map_path_parameters(context: Any, path_parameters: Any) -> Any:
    """Ids in addresses."""
    if context.operation.method.upper() == "DELETE":
        return path_parameters
    return put_known(path_parameters)


@schemathesis.hook
def map_body(_context: Any, body: Any) -> Any:
    """Ids in bodies."""
    return put_known(body)


@schemathesis.hook
def map_headers(_context: Any, headers: Any) -> Any:
    """No well-formed key comes twice.

    A key that comes again replays its first answer, also when what that made has been
    deleted since; to the generator that looks like a thing that was lost.
    """
    if isinstance(headers, dict) and KEY.fullmatch(str(headers.get("Idempotency-Key", ""))):
        headers["Idempotency-Key"] = uuid.uuid4().hex
    return headers


@schemathesis.hook
def before_call(_context: Any, case: schemathesis.Case, _kwargs: dict[str, Any]) -> None:
    """What all other calls rest on is not deleted, wherever its id was found."""
    if case.method.upper() == "DELETE":
        for name, (_, value) in KNOWN.items():
            if (case.path_parameters or {}).get(name) == value:
                case.path_parameters[name] = value[:4] + "A" * 22
