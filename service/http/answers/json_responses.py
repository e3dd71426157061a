"""Documents as JSON responses: without white space, times with their zone."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

from flask import Response, request

from worker.store.ledger import PackRow, ReferenceRow


def to_json(document: dict[str, Any]) -> str:
    """A document as JSON without white space between its parts."""
    return json.dumps(document, separators=(",", ":"))


def json_response(document: dict[str, Any], status: int = 200) -> Response:
    """A response with a document as its JSON body."""
    return Response(to_json(document), status=status, content_type="application/json")


def tagged_response(document: dict[str, Any]) -> Response:
    """The response to a GET that is repeated: 304 where the client has this document already.

    The tag is strong, since it is computed from the bytes of the body (RFC 9110, 8.8.1); it is
    compared weakly (13.1.2), since a proxy that compresses weakens it. `Cache-Control` stays
    `no-store`: the client keeps the document and the tag itself, so that no browser writes
    names to a disk.
    """
    response = json_response(document)
    response.set_etag(hashlib.sha256(response.get_data()).hexdigest()[:32])
    response.make_conditional(request)
    return response


def times_of(row: PackRow | ReferenceRow, *names: str) -> dict[str, datetime | None]:
    """The times in these columns of a row, each with its zone."""
    found = {name: getattr(row, name) for name in names}
    return {
        name: None if seconds is None else utc_datetime(seconds) for name, seconds in found.items()
    }


def utc_datetime(seconds: float) -> datetime:
    """Seconds since 1970 as a time with its zone."""
    return datetime.fromtimestamp(seconds, UTC)
