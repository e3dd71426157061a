"""Batches and estimates as JSON documents, and a batch as a table of its items."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

from service.batches.planned_items import PlannedItem
from service.batches.schemas import BatchSchema, EstimateSchema
from service.classes.tables.csv_writer import Cell, write_table
from service.packs.documents import pack_path
from service.references.documents import reference_path
from worker.spec.formats import sheet_format
from worker.spec.plan import first_sheet_page
from worker.store.ledger import Batch, BatchItem, BatchProgress

_BATCH, _ESTIMATE = BatchSchema(), EstimateSchema()
_HEADINGS = (
    "Place",
    "Student",
    "Title",
    "Pack",
    "State",
    "Sheet",
    "Sheets",
    "Pages",
    "Width mm",
    "Height mm",
    "Printed",
    "Joined",
    "To know",
    "Note",
)


def batch_path(batch_id: str) -> str:
    """The path of a batch."""
    return f"/v1/batches/{batch_id}"


def estimate_document(items: list[PlannedItem]) -> dict[str, Any]:
    """The paper and ink that planned items would take."""
    planned = [item for item in items if item.plan is not None]
    document = {
        "packs": len(planned),
        "sheets": sum(item.plan.sheet_count for item in planned if item.plan),
        "pages": sum(item.pages for item in planned),
        "ink_m2": sum(item.ink_m2 for item in planned),
        "formats": _totals(
            (item.spec.sheet.format, item.plan.sheet_count, item.pages)
            for item in planned
            if item.spec and item.plan
        ),
        "items": [_estimated(item) for item in items],
    }
    return dict(_ESTIMATE.dump(document))


def _estimated(item: PlannedItem) -> dict[str, Any]:
    student = item.student
    document: dict[str, Any] = {
        "position": item.position,
        "student": {"id": student.id, "name": student.name} if student else None,
        "title": item.title,
        "warnings": [],
    }
    if item.error is not None:
        document["error"] = {"code": item.error.code, "detail": item.error.detail}
    if item.plan is not None and item.spec is not None:
        document |= {
            "reference_id": item.reference_id,
            "support": item.spec.support,
            "sheet_format": item.spec.sheet.format,
            "sheets": item.plan.sheet_count,
            "pages": item.pages,
            "ink_m2": item.ink_m2,
            "warnings": [vars(warning) for warning in item.plan.warnings],
        }
    return document


def _totals(packs: Iterable[tuple[str, int, int]]) -> list[dict[str, Any]]:
    """Totals by sheet format, sorted by name; `packs` has each pack's format, sheets, pages."""
    found: dict[str, dict[str, Any]] = {}
    for name, sheets, pages in packs:
        total = found.setdefault(name, {"sheet_format": name, "packs": 0, "sheets": 0, "pages": 0})
        total["packs"] += 1
        total["sheets"] += sheets
        total["pages"] += pages
    return [found[name] for name in sorted(found)]


def batch_document(batch: Batch) -> dict[str, Any]:
    """A batch as a document."""
    path, row = batch_path(batch.row.id), batch.row
    packs = [item.pack for item in batch.items if item.pack]
    progress = BatchProgress(
        id=row.id,
        counts=tuple(sorted(Counter(state_of(item) for item in batch.items).items())),
        done=sum(pack.done for pack in packs),
        total=sum(pack.total for pack in packs),
        cancelled=row.cancelled_at is not None,
    )
    document = {
        "id": row.id,
        "class_id": row.class_id,
        "title": row.title,
        **progress_document(progress),
        "created_at": datetime.fromtimestamp(row.created_at, UTC),
        "print_runs": _print_runs(batch, path),
        "items": [_item(item) for item in batch.items],
        "links": {
            "self": path,
            "events": f"{path}/events",
            "archive": f"{path}/archive.zip",
            "table": f"{path}/table.csv",
        },
    }
    return dict(_BATCH.dump(document))


def state_of(item: BatchItem) -> str:
    """The state of an item's pack; `missing` where it has none."""
    return item.pack.state if item.pack else "missing"


def sheet_format_of(item: BatchItem) -> str | None:
    """The sheet format of an item's pack."""
    return item.row.spec["sheet"]["format"] if item.row.spec else None


def pages_of(item: BatchItem) -> int:
    """The number of pages of an item's pack, known before it is made; 0 where it has none."""
    spec = item.row.spec
    if item.pack is None or spec is None:
        return 0
    sheets = item.pack.total
    width_mm = sheet_format(spec["sheet"]["format"]).width_mm
    return sheets + first_sheet_page(sheets, width_mm, gridded=bool(spec.get("grid"))) - 1


def progress_document(progress: BatchProgress) -> dict[str, Any]:
    """State, counts and progress of a batch: a part of its document."""
    state, counts = _state(progress), dict(progress.counts)
    step = {"done": progress.done, "total": progress.total, "step": state}
    return {"state": state, "counts": counts, "progress": step}


def _state(progress: BatchProgress) -> str:
    if not progress.ended:
        return "making"
    if progress.cancelled:
        return "cancelled"
    return "ready" if "ready" in dict(progress.counts) else "failed"


def _print_runs(batch: Batch, path: str) -> list[dict[str, Any]]:
    runs = _totals(
        (name, item.pack.total, pages_of(item))
        for item in batch.items
        if item.pack and (name := sheet_format_of(item))
    )
    ready = Counter(sheet_format_of(item) for item in batch.items if state_of(item) == "ready")
    for run in runs:
        name = run["sheet_format"]
        run |= {"ready": ready[name], "path": f"{path}/print-run/{name}.pdf"}
        run["ticket"] = f"{path}/print-run/{name}.ticket.json"
    return runs


def _item(item: BatchItem) -> dict[str, Any]:
    row, pack = item.row, item.pack
    document: dict[str, Any] = {
        "position": row.position,
        "student": {"id": row.student_id, "name": item.student_name} if row.student_id else None,
        "title": row.title,
        "note": row.note,
        "state": state_of(item),
        "printed": bool(pack and pack.printed_at),
        "joined": bool(pack and pack.joined_at),
        "warnings": list(pack.warnings) if pack else [],
    }
    if pack is None:
        code = row.error_code or "not-found"
        detail = row.error_detail or "The pack was deleted."
        return {**document, "error": {"code": code, "detail": detail}}
    links = {"pack": pack_path(pack.id)}
    if row.reference_id:
        links["reference"] = reference_path(row.reference_id)
    document |= {
        "pack_id": pack.id,
        "progress": {"done": pack.done, "total": pack.total, "step": pack.step or pack.state},
        "sheet_format": sheet_format_of(item),
        "sheets": pack.total,
        "links": links,
    }
    if row.spec:
        document["support"] = row.spec["support"]
    if pack.number:
        document["number"] = pack.number
    if pack.error_code:
        document["error"] = {"code": pack.error_code, "detail": pack.error_detail or ""}
    return document


def table_of(batch: Batch) -> Iterator[bytes]:
    """The items of a batch as CSV."""
    return write_table(_HEADINGS, (_cells(item) for item in batch.items))


def _cells(item: BatchItem) -> list[Cell]:
    row, pack = item.row, item.pack
    support = row.spec["support"] if row.spec else {}
    warnings = [str(warning["detail"]) for warning in pack.warnings] if pack else []
    error = (pack.error_detail if pack else row.error_detail) or ""
    return [
        row.position + 1,
        item.student_name,
        row.title,
        pack.number if pack else None,
        state_of(item),
        sheet_format_of(item),
        pack.total if pack else None,
        pages_of(item) if pack else None,
        support.get("width_mm"),
        support.get("height_mm"),
        _yes(pack.printed_at if pack else None),
        _yes(pack.joined_at if pack else None),
        " ".join(filter(None, [error, *warnings])),
        row.note,
    ]


def _yes(moment: float | None) -> str:
    return "yes" if moment else ""
