"""Students and tutors by the ids that another system has for them.

A course site, or a tutor with their own key, puts a person by an id of its own and always gets
the same person's id here. Names may be equal; ids are what tells people apart.
"""

from __future__ import annotations

from typing import Any

from flask import Response

from service.classes.documents import student_document, tutor_document
from service.classes.schemas import (
    ClassTutorSchema,
    ExternalStudentSchema,
    ExternalTutorSchema,
    StudentSchema,
)
from service.classes.tutors import check_owns
from service.http.answers.json_responses import json_response
from service.http.errors import NotAllowed
from service.http.resources import Resources
from service.runtime.context import get_context, owner_id, person
from worker.errors import LimitReached, RosterFull
from worker.store.ledger import StudentRow, TutorRow

_PATH = "/by-external-id/<external_id:external_id>"
of_students = Resources(
    "students-by-external-id",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/students",
    description="Students by the ids of another system.",
)
of_tutors = Resources(
    "tutors-by-external-id",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/tutors",
    description="Tutors by the ids of another system.",
)


@of_students.put(_PATH)
@of_students.arguments(ExternalStudentSchema)
@of_students.response(200, StudentSchema, description="The student was there; the name is set.")
@of_students.alt_response(
    201, schema=StudentSchema, description="The student is new.", success=True
)
@of_students.refuses(RosterFull)
def put_student_by_external_id(body: dict[str, str], class_id: str, external_id: str) -> Response:
    """Put a student on the roster under an id of your own, or rename the one who has it.

    The answer always has the student's `id`, however often this is sent, and however many
    students have the same name. The external id is unique for whoever asks, in this class.
    """
    name = " ".join(body["name"].split())
    placed = get_context().ledger.external_ids.put_student(class_id, owner_id(), external_id, name)
    assert isinstance(placed.person, StudentRow)  # noqa: S101 -- Students only are put here.
    document = student_document(placed.person, external_id)
    return json_response(document, 201 if placed.made else 200)


@of_students.get(_PATH)
@of_students.response(200, StudentSchema)
def get_student_by_external_id(class_id: str, external_id: str) -> Response:
    """Show the student whom you have put here under this id."""
    row = get_context().ledger.external_ids.student(class_id, owner_id(), external_id)
    return json_response(student_document(row, external_id))


@of_tutors.put(_PATH)
@of_tutors.arguments(ExternalTutorSchema)
@of_tutors.response(200, ClassTutorSchema, description="The tutor was there.")
@of_tutors.alt_response(201, schema=ClassTutorSchema, description="They are new.", success=True)
@of_tutors.refuses(LimitReached)
def put_tutor_by_external_id(body: dict[str, str], class_id: str, external_id: str) -> Response:
    """Have a tutor teach in this class, under an id of your own.

    In all classes of whoever asks, the id means the same tutor. They may do in the class what
    its own tutor may, but not delete it, give it to course sites, or add and remove tutors. A
    tutor who is new has no key.
    """
    if person().role == "tutor":
        check_owns(class_id)
    elif "tutor_id" in body:
        message = "Only the class's own tutor may say that an external id means a tutor here."
        raise NotAllowed(message, field="tutor_id")
    placed = get_context().ledger.external_ids.put_tutor(
        class_id,
        owner_id(),
        external_id,
        name=" ".join(body.get("name", "").split()),
        tutor_id=body.get("tutor_id"),
    )
    assert isinstance(placed.person, TutorRow)  # noqa: S101 -- Tutors only are put here.
    document: dict[str, Any] = tutor_document(class_id, placed.person, external_id)
    return json_response(document, 201 if placed.made else 200)


@of_tutors.get(_PATH)
@of_tutors.response(200, ClassTutorSchema)
def get_tutor_by_external_id(class_id: str, external_id: str) -> Response:
    """Show the tutor whom you have put here under this id."""
    row = get_context().ledger.external_ids.tutor(class_id, owner_id(), external_id)
    return json_response(tutor_document(class_id, row, external_id))
