"""Keys of students: their tutor makes another for a lost phone, or frees their place."""

from __future__ import annotations

from flask import Response

from service.classes.students import check_class
from service.http.answers.json_responses import json_response
from service.http.logs.access_log import add_access_facts
from service.http.resources import Resources
from service.people.documents import issued_document
from service.people.schemas import IssuedSchema, LabelSchema
from service.runtime.context import get_context

blueprint = Resources(
    "student_keys",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/student-keys",
    description="Keys of students.",
)


@blueprint.post("/<student_id:student_id>")
@blueprint.arguments(LabelSchema)
@blueprint.response(201, IssuedSchema)
def issue_student_key(body: dict[str, str], class_id: str, student_id: str) -> Response:
    """Make a new key for a student's device; the old ones open nothing any more."""
    check_class(class_id, student_id)
    people = get_context().ledger.people
    issued = people.issue_key(student_id, body["label"], replace=True)
    add_access_facts(about=issued.access.id)
    return json_response(issued_document(people.person(student_id), issued), 201)


@blueprint.delete("/<student_id:student_id>")
@blueprint.response(204)
def withdraw_student_key(class_id: str, student_id: str) -> Response:
    """Withdraw a student's keys, so that their place on the roster is free to join again."""
    check_class(class_id, student_id)
    get_context().ledger.people.withdraw_key(student_id)
    return Response(status=204)
