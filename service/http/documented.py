"""Parts of the OpenAPI document that views of several resources put on themselves."""

from __future__ import annotations

from typing import Any, Final

from worker.errors import RicalcoError

BINARY: Final = {"type": "string", "format": "binary"}
#: Marks of an operation that `service.contract` turns into documented answers.
REFUSES, SENDS_FILE = "x-refuses", "x-sends-file"
_ATTACHMENT = "How a browser names the download (RFC 6266)."
ATTACHMENT_HEADERS: Final[dict[str, Any]] = {
    "Content-Disposition": {"description": _ATTACHMENT, "schema": {"type": "string"}}
}
FILE_HEADERS: Final[dict[str, Any]] = {
    **ATTACHMENT_HEADERS,
    "ETag": {"description": "Equal tags mean equal bytes.", "schema": {"type": "string"}},
    "Repr-Digest": {
        "description": "SHA-256 of the whole file (RFC 9530).",
        "schema": {"type": "string"},
    },
    "Accept-Ranges": {"description": "`bytes`.", "schema": {"type": "string"}},
}


def codes_of(kind: type[RicalcoError]) -> set[str]:
    """The codes of an error and of all errors below it."""
    found = {kind.code} if "code" in vars(kind) else set()
    return found.union(*(codes_of(below) for below in kind.__subclasses__()))
