"""Documents as answers: JSON without blanks, times with their zone."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from flask import Response

from worker.store.ledger import PackRow, ReferenceRow


def to_json(document: dict[str, Any]) -> str:
    """A document as text, without blanks that nobody reads."""
    return json.dumps(document, separators=(",", ":"))


def answer(document: dict[str, Any], status: int = 200) -> Response:
    """A document as a response."""
    return Response(to_json(document), status=status, content_type="application/json")


def times_of(row: PackRow | ReferenceRow, *names: str) -> dict[str, datetime | None]:
    """These times of a row, each with its zone."""
    found = {name: getattr(row, name) for name in names}
    return {name: None if at is None else moment(at) for name, at in found.items()}


def moment(seconds: float) -> datetime:
    """Seconds since 1970 as a time with its zone."""
    return datetime.fromtimestamp(seconds, UTC)
