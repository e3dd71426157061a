"""References as JSON documents."""

from __future__ import annotations

from typing import Any

from service.http.answers.json_responses import times_of
from service.references.schemas import ReferenceSchema
from worker.store.ledger import ReferenceRow

_REFERENCE = ReferenceSchema()


def reference_path(reference_id: str) -> str:
    """The path of a reference; without a host, so that it is right behind any proxy."""
    return f"/v1/references/{reference_id}"


def reference_document(row: ReferenceRow) -> dict[str, Any]:
    """A reference as a document."""
    path = reference_path(row.id)
    links = {"self": path, "preview": f"{path}/preview.jpg"}
    return dict(
        _REFERENCE.dump(
            {**vars(row), **times_of(row, "created_at", "delete_after"), "links": links}
        )
    )
