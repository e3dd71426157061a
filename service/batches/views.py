"""Batches: estimating, ordering, showing, cancelling, deleting and downloading them."""

from __future__ import annotations

from dataclasses import replace
from http import HTTPStatus
from typing import Any

from flask import Response, g

from service.batches import events
from service.batches import files as batch_files
from service.batches.documents import batch_document, estimate_document, table_of
from service.batches.planned_items import PlannedItem, plan_items
from service.batches.schemas import (
    BatchesSchema,
    BatchQuerySchema,
    BatchRequestSchema,
    BatchSchema,
    EstimateSchema,
    PrintRunQuerySchema,
)
from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.safe_names import safe_name
from service.http.answers.json_responses import json_response, tagged_response
from service.http.documented import ATTACHMENT_HEADERS, BINARY, LIST_HEADERS
from service.http.errors import QueueFull
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources, request_invalid
from service.http.schemas import KeySchema
from service.packs.schemas import EventSchema
from service.packs.views import SECONDS_A_SHEET
from service.runtime.context import get_context, owner_id
from service.runtime.idempotency import fingerprint_with_query, idempotent
from service.runtime.queue_limit import check_queue
from worker.errors import (
    FilesMissing,
    NotReady,
    ReferenceGone,
    SpecError,
    TableUnreadable,
    TooManyUnfinished,
)
from worker.jobs import wake
from worker.spec.json import dump_plan, dump_spec
from worker.store.ledger import Batch, BatchItemRow, BatchRow, ClassRow, NewItem, NewPack

blueprint = Resources(
    "batches", __name__, url_prefix="/v1", description="Sets of packs made for a class."
)
_BATCHES = PagedList[Batch](name="batches", place=lambda one: (one.row.created_at, one.row.id))


@blueprint.get("/classes/<class_id:class_id>/batches")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, BatchesSchema, headers=LIST_HEADERS)
def list_batches(query: dict[str, Any], class_id: str) -> Response:
    """List a class's batches, the newest first."""
    page = _BATCHES.page(query)
    found = get_context().ledger.batches.of_class(class_id, owner_id(), page)
    return _BATCHES.respond_items(found, page, batch_document)


@blueprint.post("/classes/<class_id:class_id>/batches/estimate")
@blueprint.refuses(SpecError, TableUnreadable)
@blueprint.arguments(BatchRequestSchema)
@blueprint.arguments(BatchQuerySchema, location="query")
@blueprint.response(200, EstimateSchema)
def estimate_batch(body: dict[str, Any], query: dict[str, Any], class_id: str) -> Response:
    """Tell what a batch would take, student by student; nothing is stored."""
    group = get_context().ledger.classes.get(class_id, owner_id())
    return json_response(estimate_document(plan_items(group, _completed(body, query))))


@blueprint.post("/classes/<class_id:class_id>/batches")
@blueprint.refuses(SpecError, TableUnreadable, TooManyUnfinished, QueueFull)
@blueprint.arguments(BatchRequestSchema)
@blueprint.arguments(BatchQuerySchema, location="query")
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(202, BatchSchema)
def create_batch(
    body: dict[str, Any], query: dict[str, Any], headers: dict[str, Any], class_id: str
) -> Response:
    """Ask for packs for a class: one photo to many supports, many photos to one, or both.

    The body is JSON, or a table as `text/csv`, as a spreadsheet saves it; then title, note
    and photo for all stand in the query. Who has no photo yet is left out, and told.
    """
    with idempotent(
        headers["idempotency_key"],
        fingerprint_with_query,
        status=202,
        document=batch_document,
    ) as call:
        if call.replayed is not None:
            return call.replayed
        check_queue(one=False)
        whole = _completed(body, query)
        group = get_context().ledger.classes.get(class_id, owner_id())
        batch, items = _batch_rows(group, whole, plan_items(group, whole))
        made = get_context().ledger.batches.add(batch, owner_id(), items, call.kept_answer)
    for _ in range(min(made.unfinished, get_context().settings.workers)):
        wake(get_context().settings)
    return call.respond(made)


def _completed(body: dict[str, Any], query: dict[str, Any]) -> dict[str, Any]:
    """The body, completed from the query."""
    return {**body, **{name: body[name] or value for name, value in query.items()}}


def _batch_rows(
    group: ClassRow, body: dict[str, Any], items: list[PlannedItem]
) -> tuple[BatchRow, list[NewItem]]:
    """The rows of the batch for the ledger.

    Raises:
        RequestInvalid: No item can be made.
    """
    if not any(item.plan for item in items):
        sentence = items[0].error.detail if items and items[0].error else "Nobody is on the roster."
        raise request_invalid({"items": [f"No pack can be made: {sentence}"]})
    until = get_context().ledger.time() + group.settings.keep_s
    batch = BatchRow(class_id=group.id, title=body["title"], delete_after=until)
    named = group.settings.print_names
    return batch, [_item(batch, item, until, named=named) for item in items]


def _item(batch: BatchRow, item: PlannedItem, until: float, *, named: bool) -> NewItem:
    """The row of an item with its pack; `named`: the sheets carry the student's name."""
    student_id = item.student.id if item.student else None
    row = BatchItemRow(
        batch_id=batch.id,
        position=item.position,
        student_id=student_id,
        title=item.title,
        note=item.note,
    )
    if item.plan is None or item.spec is None or item.reference_id is None:
        code, detail = (item.error.code, item.error.detail) if item.error else ("error", "")
        return NewItem(row=replace(row, error_code=code, error_detail=detail))
    pack = NewPack(
        owner_id=student_id or owner_id(),
        reference_id=item.reference_id,
        title=item.title,
        recipient=item.student.name if named and item.student else None,
        spec=dump_spec(item.spec),
        plan=dump_plan(item.plan.without_faces()),
        total=item.plan.sheet_count,
        cost_s=SECONDS_A_SHEET * item.plan.sheet_count,
        payer_id=owner_id(),
        delete_after=until,
        request_id=g.request_id,
    )
    made = replace(row, reference_id=item.reference_id, pack_id=pack.id, spec=pack.spec)
    return NewItem(row=made, pack=pack)


@blueprint.get("/batches/<batch_id:batch_id>")
@blueprint.tagged(BatchSchema)
def get_batch(batch_id: str) -> Response:
    """Show how far a batch is, student by student."""
    return tagged_response(batch_document(get_context().ledger.batches.get(batch_id, owner_id())))


@blueprint.get("/batches/<batch_id:batch_id>/events")
@blueprint.response(
    200,
    EventSchema,
    content_type="text/event-stream",
    description="One message each time that the batch has moved on: `state`, `counts` and "
    "`progress`, and once all of it has ended the whole batch.",
)
@blueprint.alt_response(204, description="You have seen the last message.", success=True)
def follow_batch(batch_id: str) -> Response:
    """Follow a batch by Server-Sent Events.

    A message tells how many packs are in which state, and how many pieces are made; the last
    one, when every pack has ended, is the whole batch. A stream ends then, or after about a
    minute; whoever comes again with `Last-Event-ID` is told only what is new. Where too many
    streams are open, or more than four of one person's, another is refused (503): ask for the
    batch now and then instead.
    """
    return events.follow(batch_id)


@blueprint.delete("/batches/<batch_id:batch_id>")
@blueprint.response(204, description="It is deleted, with its packs.")
@blueprint.alt_response(
    202, schema=BatchSchema, description="What is not made yet is cancelled.", success=True
)
def delete_batch(batch_id: str) -> Response:
    """Cancel what is not made yet; delete a batch that has ended, with its packs."""
    batches = get_context().ledger.batches
    if batches.get(batch_id, owner_id()).unfinished:
        after = batches.cancel(batch_id, owner_id())
        return json_response(batch_document(after), HTTPStatus.ACCEPTED)
    for key in batches.delete(batch_id, owner_id()):
        get_context().storage.delete(key)
    return Response(status=HTTPStatus.NO_CONTENT)


@blueprint.get("/batches/<batch_id:batch_id>/archive.zip")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone)
@blueprint.response(200, BINARY, content_type="application/zip", headers=ATTACHMENT_HEADERS)
def get_batch_archive(batch_id: str) -> Response:
    """Every pack with its cover, and the table of who has what, in one ZIP."""
    batch = get_context().ledger.batches.get(batch_id, owner_id())
    return batch_files.send_archive(batch, _group(batch.row).name)


@blueprint.get("/batches/<batch_id:batch_id>/print-run/<sheet_format:sheet_format>.pdf")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone)
@blueprint.arguments(PrintRunQuerySchema, location="query")
@blueprint.sends_file("application/pdf", made=True)
def get_print_run(query: dict[str, Any], batch_id: str, sheet_format: str) -> Response:
    """All packs on one kind of paper, in roster order, a separator before each student's."""
    batch = get_context().ledger.batches.get(batch_id, owner_id())
    return batch_files.send_print_run(batch, sheet_format, covers=query["covers"])


@blueprint.get("/batches/<batch_id:batch_id>/table.csv")
@blueprint.response(200, BINARY, content_type="text/csv", headers=ATTACHMENT_HEADERS)
def get_batch_table(batch_id: str) -> Response:
    """Who has what, as a table for a spreadsheet."""
    batch = get_context().ledger.batches.get(batch_id, owner_id())
    response = Response(b"".join(table_of(batch)), content_type="text/csv; charset=utf-8")
    name = f"{safe_name(batch.row.title or _group(batch.row).name, 'packs')}.csv"
    response.headers["Content-Disposition"] = content_disposition(name)
    return response


def _group(batch: BatchRow) -> ClassRow:
    return get_context().ledger.classes.get(batch.class_id, owner_id())
