"""Parts of the OpenAPI document that views of several resources put on themselves."""

from __future__ import annotations

from typing import Any, Final

from worker.errors import RicalcoError

BINARY: Final = {"type": "string", "format": "binary"}
#: Marks of an operation that `service.contract` turns into documented answers.
REFUSES, SENDS_FILE, TAGGED = "x-refuses", "x-sends-file", "x-tagged"
_ATTACHMENT = "How a browser names the download (RFC 6266)."
ATTACHMENT_HEADERS: Final[dict[str, Any]] = {
    "Content-Disposition": {"description": _ATTACHMENT, "schema": {"type": "string"}}
}
TAG_HEADERS: Final[dict[str, Any]] = {
    "ETag": {"description": "Equal tags mean equal bytes.", "schema": {"type": "string"}}
}
#: Headers of a file that is made while it is sent, and of one that lies ready.
MADE_FILE_HEADERS: Final[dict[str, Any]] = {
    **ATTACHMENT_HEADERS,
    **TAG_HEADERS,
    "Accept-Ranges": {"description": "`bytes`.", "schema": {"type": "string"}},
}
FILE_HEADERS: Final[dict[str, Any]] = {
    **MADE_FILE_HEADERS,
    "Repr-Digest": {
        "description": "SHA-256 of the whole file (RFC 9530).",
        "schema": {"type": "string"},
    },
}
LIST_HEADERS: Final[dict[str, Any]] = {
    "Link": {
        "description": '`rel="next"`: the address of the next page (RFC 8288); none on the last.',
        "schema": {"type": "string"},
    }
}


def codes_of(kind: type[RicalcoError]) -> set[str]:
    """The codes of an error and of all errors below it."""
    found = {kind.code} if "code" in vars(kind) else set()
    return found.union(*(codes_of(below) for below in kind.__subclasses__()))
