"""Rows of the ledger as the documents that callers see, with addresses instead of keys."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from flask import Response

from service.schemas import PackSchema, ReferenceSchema
from worker.ledger import PackProgress, PackRow, ReferenceRow

_REFERENCE = ReferenceSchema()
_PACK = PackSchema()


def reference_path(reference_id: str) -> str:
    """Where a reference is found; a path, so that it is right behind any proxy."""
    return f"/v1/references/{reference_id}"


def pack_path(pack_id: str) -> str:
    """Where a pack is found."""
    return f"/v1/packs/{pack_id}"


def reference_document(row: ReferenceRow) -> dict[str, Any]:
    """A reference as callers see it."""
    path = reference_path(row.id)
    links = {"self": path, "preview": f"{path}/preview.jpg"}
    return dict(
        _REFERENCE.dump({**vars(row), **_times(row, "created_at", "delete_after"), "links": links})
    )


def pack_document(row: PackRow) -> dict[str, Any]:
    """A pack as callers see it."""
    path = pack_path(row.id)
    document: dict[str, Any] = {
        "id": row.id,
        "title": row.title,
        **progress_document(row),
        "owner_id": row.owner_id,
        **_times(row, "created_at", "delete_after", "printed_at", "joined_at"),
        "links": {
            "self": path,
            "events": f"{path}/events",
            "reference": reference_path(row.reference_id),
        },
        "spec": row.spec,
    }
    if row.number is not None:
        document["number"] = row.number
    if row.plan is not None:
        document["plan"] = row.plan
    if row.error_code is not None:
        document["error"] = {"code": row.error_code, "detail": row.error_detail or ""}
    if row.state == "ready" and row.plan is not None:
        document["files"] = _files(path, row.plan)
    return dict(_PACK.dump(document))


def progress_document(at: PackRow | PackProgress) -> dict[str, Any]:
    """How far a pack is, as callers see it: a part of the pack's document."""
    progress = {"done": at.done, "total": at.total, "step": at.step or at.state}
    return {"state": at.state, "progress": progress}


def to_json(document: dict[str, Any]) -> str:
    """A document as text, without blanks that nobody reads."""
    return json.dumps(document, separators=(",", ":"))


def answer(document: dict[str, Any], status: int = 200) -> Response:
    """A document as a response."""
    return Response(to_json(document), status=status, content_type="application/json")


def _files(path: str, plan: dict[str, Any]) -> dict[str, Any]:
    labels = [piece["label"] for piece in plan["pieces"]]
    return {
        "pack": f"{path}/pack.pdf",
        "map": f"{path}/map.png",
        "picture": f"{path}/picture.jpg",
        "sheets": [
            {
                "label": label,
                "pdf": f"{path}/sheets/{label}.pdf",
                "png": f"{path}/sheets/{label}.png",
            }
            for label in labels
        ],
    }


def _times(row: PackRow | ReferenceRow, *names: str) -> dict[str, datetime | None]:
    found = {name: getattr(row, name) for name in names}
    return {name: None if at is None else moment(at) for name, at in found.items()}


def moment(seconds: float) -> datetime:
    """Seconds since 1970 as a time with its zone."""
    return datetime.fromtimestamp(seconds, UTC)
