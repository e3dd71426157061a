"""Packs as JSON documents, with addresses in place of file keys."""

from __future__ import annotations

from typing import Any

from service.http.answers.json_responses import times_of
from service.packs.schemas import ListedPackSchema, PackOnBoardSchema, PackSchema
from service.references.documents import reference_path
from worker.spec.sheet_labels import address_label
from worker.store.ledger import PackProgress, PackRow

_PACK = PackSchema()


def pack_path(pack_id: str) -> str:
    """The path of a pack."""
    return f"/v1/packs/{pack_id}"


def pack_document(row: PackRow) -> dict[str, Any]:
    """A pack as a document."""
    path = pack_path(row.id)
    document: dict[str, Any] = {
        "id": row.id,
        "title": row.title,
        **progress_document(row),
        "owner_id": row.owner_id,
        **times_of(row, "created_at", "delete_after", "printed_at", "joined_at"),
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


def progress_document(row: PackRow | PackProgress) -> dict[str, Any]:
    """State and progress of a pack: a part of its document."""
    progress = {"done": row.done, "total": row.total, "step": row.step or row.state}
    return {"state": row.state, "progress": progress}


def _files(path: str, plan: dict[str, Any]) -> dict[str, Any]:
    pieces = [
        (piece["label"], address_label(piece["row"], piece["column"])) for piece in plan["pieces"]
    ]
    return {
        "pack": f"{path}/pack.pdf",
        "map": f"{path}/map.png",
        "picture": f"{path}/picture.jpg",
        "thumbnail": _thumbnail_path(path),
        "sheets": [
            {
                "label": label,
                "pdf": f"{path}/sheets/{address}.pdf",
                "png": f"{path}/sheets/{address}.png",
            }
            for label, address in pieces
        ],
    }


def _thumbnail_path(path: str) -> str:
    return f"{path}/thumbnail.jpg"


#: Fields of the short form, without plans: a board of thirty is sent every few seconds.
_IN_SHORT = frozenset(PackOnBoardSchema().fields)


def pack_in_short(row: PackRow) -> dict[str, Any]:
    """A pack without its plan and spec."""
    shown = {**pack_document(row), "sheets": row.total}
    return {name: shown[name] for name in shown if name in _IN_SHORT}


_LISTED = frozenset(ListedPackSchema().fields)


def listed_pack(row: PackRow) -> dict[str, Any]:
    """A pack without its plan, with what another can be made of."""
    shown = {**pack_document(row), "sheets": row.total}
    if row.state == "ready":
        shown["files"] = {"thumbnail": _thumbnail_path(pack_path(row.id))}
    return {name: shown[name] for name in shown if name in _LISTED}
