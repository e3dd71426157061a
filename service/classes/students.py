"""Rosters: adding, ordering, changing and deleting students, and their keys."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.classes.documents import roster_document, student_document
from service.classes.schemas import (
    RosterOrderSchema,
    RosterSchema,
    StudentChangeSchema,
    StudentSchema,
    StudentsSchema,
)
from service.classes.tables.roster import read_roster
from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.paging import MOST, ListQuerySchema, PagedList
from service.http.resources import Resources, request_invalid
from service.http.schemas import KeySchema
from service.runtime.context import get_context, owner_id
from service.runtime.file_deletion import delete_files
from service.runtime.idempotency import idempotent
from worker.errors import NameTaken, NotFound, RosterChanged, RosterFull, TableUnreadable
from worker.store.ledger import StudentRow, same_name

blueprint = Resources(
    "students",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/students",
    description="Rosters.",
)
_ROSTER = PagedList[StudentRow](
    name="students", place=lambda row: (row.position or 0, row.id), usual=MOST
)


@blueprint.get("")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, StudentsSchema, headers=LIST_HEADERS)
def list_students(query: dict[str, Any], class_id: str) -> Response:
    """Show the roster in its order; a page has room for a whole class."""
    page, ledger = _ROSTER.page(query), get_context().ledger
    known = ledger.external_ids.by_person(owner_id(), class_id)
    found = ledger.students.of_class(class_id, page)
    return _ROSTER.respond(found, page, lambda rows: roster_document(class_id, rows, known))


@blueprint.post("")
@blueprint.refuses(TableUnreadable, RosterFull)
@blueprint.arguments(RosterSchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, StudentsSchema)
def add_students(body: dict[str, Any], headers: dict[str, Any], class_id: str) -> Response:
    """Add students: `names`, pasted `text`, or a table sent bare as text/csv.

    A name that the roster has already is left as it is, so that a longer list can be sent
    again.
    """
    students = get_context().ledger.students
    there = {same_name(row.name) for row in students.of_class(class_id)}
    names = _names(body)
    known = [name for name in names if same_name(name) in there]
    with idempotent(
        headers["idempotency_key"],
        status=201,
        document=lambda rows: {**roster_document(class_id, rows), "known": known},
    ) as call:
        if call.replayed is not None:
            return call.replayed
        new = [name for name in names if same_name(name) not in there]
        return call.respond(students.add(class_id, owner_id(), new, call.kept_answer))


@blueprint.patch("")
@blueprint.refuses(RosterChanged)
@blueprint.arguments(RosterOrderSchema)
@blueprint.response(200, StudentsSchema)
def reorder_students(body: dict[str, Any], class_id: str) -> Response:
    """Put the roster into another order; `order` names everybody who is on it, once."""
    rows = get_context().ledger.students.reorder(class_id, owner_id(), body["order"])
    return json_response(roster_document(class_id, rows))


@blueprint.patch("/<student_id:student_id>")
@blueprint.refuses(NameTaken)
@blueprint.arguments(StudentChangeSchema)
@blueprint.response(200, StudentSchema)
def update_student(body: dict[str, Any], class_id: str, student_id: str) -> Response:
    """Change a name or a place; withdraw someone, or let them in again."""
    check_class(class_id, student_id)
    return json_response(
        student_document(get_context().ledger.students.change(student_id, owner_id(), body))
    )


@blueprint.delete("/<student_id:student_id>")
@blueprint.response(204)
def delete_student(class_id: str, student_id: str) -> Response:
    """Delete a student with all that is theirs, at once."""
    check_class(class_id, student_id)
    delete_files(get_context().ledger.students.delete(student_id, owner_id()))
    return Response(status=204)


def check_class(class_id: str, student_id: str) -> None:
    """Check that the student is in this class of the tutor, and not in another."""
    if get_context().ledger.students.get(student_id, owner_id()).class_id != class_id:
        raise NotFound("There is no such student.")


def _names(body: dict[str, Any]) -> list[str]:
    """The names from whichever form the request has."""
    given = [kind for kind in ("names", "text", "table") if kind in body]
    if len(given) != 1 or ("table" in body and not isinstance(body["table"], bytes)):
        raise request_invalid({"names": ["Give names, or text, or a table as text/csv."]})
    if "names" in body:
        return list({same_name(name): " ".join(name.split()) for name in body["names"]}.values())
    # An empty table is a table too, and is refused as one.
    table = body["table"] if "table" in body else body["text"]
    return [student.name for student in read_roster(table)]
