"""Packs: ordering, showing, following, marking, cancelling and deleting them."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from flask import Response, g

from service.access.class_limits import bounds, check_open, delete_after, recipient
from service.http.answers.json_responses import json_response, tagged_response
from service.http.errors import QueueFull
from service.http.schemas import KeySchema
from service.packs import events
from service.packs.documents import pack_document
from service.packs.planner import plan_for
from service.packs.schemas import (
    DeletePackSchema,
    EventSchema,
    MarkSchema,
    PackRequestSchema,
    PackSchema,
)
from service.packs.spec_resources import SpecResources
from service.runtime.context import get_context, owner_for, owner_id, person
from service.runtime.file_deletion import delete_files
from service.runtime.idempotency import idempotent
from service.runtime.queue_limit import check_queue
from worker.errors import (
    ClassClosed,
    LimitReached,
    NotFound,
    NotReady,
    ReferenceGone,
    TooManyUnfinished,
)
from worker.jobs import wake
from worker.spec.json import dump_plan, dump_spec
from worker.spec.plan import Plan
from worker.store.ledger import Mark, NewPack, ReferenceRow

blueprint = SpecResources(
    "packs", __name__, url_prefix="/v1/packs", description="Map, guide and sheets together."
)
#: About how long a sheet takes to make; used for fairness between owners only.
SECONDS_A_SHEET = 0.05
_MARKS: dict[str, Mark] = {"printed": "printed_at", "joined": "joined_at"}


@blueprint.post("")
@blueprint.refuses(NotFound, ReferenceGone, ClassClosed, LimitReached, TooManyUnfinished, QueueFull)
@blueprint.arguments(PackRequestSchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(202, PackSchema)
def create_pack(body: dict[str, Any], headers: dict[str, Any]) -> Response:
    """Ask for a pack; it is made while you wait or do something else."""
    with idempotent(headers["idempotency_key"], status=202, document=pack_document) as call:
        if call.replayed is not None:
            return call.replayed
        check_open()
        check_queue(one=True)
        reference, plan = plan_for(body["reference_id"], body["spec"])
        row = get_context().ledger.enqueue(_new_pack(body, reference, plan), call.kept_answer)
    wake(get_context().settings)
    return call.respond(row)


def _new_pack(body: dict[str, Any], reference: ReferenceRow, plan: Plan) -> NewPack:
    owner = _owner(body["student_id"], reference)
    return NewPack(
        owner_id=owner,
        payer_id=None if owner == owner_id() else owner_id(),
        delete_after=delete_after(owner),
        bounds=bounds(),
        reference_id=reference.id,
        title=body["title"],
        recipient=recipient(owner),
        spec=dump_spec(body["spec"]),
        plan=dump_plan(plan.without_faces()),
        total=plan.sheet_count,
        cost_s=SECONDS_A_SHEET * plan.sheet_count,
        request_id=g.request_id,
    )


def _owner(student_id: str | None, reference: ReferenceRow) -> str:
    """The owner of the pack: the student that a tutor names, else the student of the photo.

    Else it is the asker's own: a student's, even where their tutor lent the photo, and a
    tutor's, even where a course site of theirs sent it. The ledger checks
    that the owner may use the photo when it adds the pack.
    """
    if student_id is not None or person().role == "student":
        return owner_for(student_id)
    taught = get_context().ledger.people.sees(owner_id(), "student_id", reference.owner_id)
    return reference.owner_id if taught else owner_id()


@blueprint.get("/<pack_id:pack_id>")
@blueprint.tagged(PackSchema)
def get_pack(pack_id: str) -> Response:
    """Show how far a pack is, its plan, and, when it is ready, where its files are."""
    return tagged_response(pack_document(get_context().ledger.pack(pack_id, owner_id())))


@blueprint.get("/<pack_id:pack_id>/events")
@blueprint.response(
    200,
    EventSchema,
    content_type="text/event-stream",
    description="One message each time that the pack has moved on: `state` and `progress`, "
    "and once it has ended the whole pack.",
)
@blueprint.alt_response(204, description="You have seen the last message.", success=True)
def follow_pack(pack_id: str) -> Response:
    """Follow a pack by Server-Sent Events.

    A message tells `state` and `progress`; the last one, when the pack has ended, is the
    whole pack. A stream ends then, or after about a minute; whoever comes again with
    `Last-Event-ID` is told only what is new. Where too many streams are open, or more than
    four of one person's, another is refused (503): ask for the pack now and then instead.
    """
    return events.follow(pack_id)


@blueprint.patch("/<pack_id:pack_id>")
@blueprint.refuses(NotReady)
@blueprint.arguments(MarkSchema)
@blueprint.response(200, PackSchema)
def mark_pack(marks: dict[str, bool], pack_id: str) -> Response:
    """Mark a pack as printed or as joined, or take the mark off."""
    now = get_context().ledger.time()
    times: dict[Mark, float | None] = {
        _MARKS[name]: now if yes else None for name, yes in marks.items()
    }
    return json_response(pack_document(get_context().ledger.mark_pack(pack_id, owner_id(), times)))


@blueprint.delete("/<pack_id:pack_id>")
@blueprint.arguments(DeletePackSchema, location="query")
@blueprint.response(204, description="It is deleted.")
@blueprint.alt_response(202, schema=PackSchema, description="It is being cancelled.", success=True)
def delete_pack(query: dict[str, Any], pack_id: str) -> Response:
    """Cancel a pack that is not made yet; delete one that has ended."""
    ended = get_context().ledger.cancel_or_delete(pack_id, owner_id(), **query)
    delete_files(ended.keys)
    if ended.pack is None:
        return Response(status=HTTPStatus.NO_CONTENT)
    return json_response(pack_document(ended.pack), HTTPStatus.ACCEPTED)
