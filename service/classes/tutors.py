"""The tutors of a class: its own, and those whom they or a course site have added."""

from __future__ import annotations

from flask import Response

from service.classes.documents import tutor_document
from service.classes.schemas import ClassTutorsSchema
from service.http.answers.json_responses import json_response
from service.http.errors import NotAllowed
from service.http.resources import Resources
from service.runtime.context import get_context, owner_id, person

blueprint = Resources(
    "class-tutors",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/tutors",
    description="Who teaches in a class.",
)


@blueprint.get("")
@blueprint.response(200, ClassTutorsSchema)
def list_class_tutors(class_id: str) -> Response:
    """Show who teaches in a class, its own tutor first."""
    ledger = get_context().ledger
    known = ledger.external_ids.by_person(owner_id(), class_id)
    rows = ledger.second_tutors.of_class(class_id, owner_id())
    return json_response(
        {"items": [tutor_document(class_id, row, known.get(row.id)) for row in rows]}
    )


@blueprint.delete("/<tutor_id:tutor_id>")
@blueprint.response(204)
def remove_class_tutor(class_id: str, tutor_id: str) -> Response:
    """Remove a second tutor from a class; what they made for it stays.

    The class's own tutor removes any, a second tutor themself, a course site those whom it has
    put here. One who has no key and no other class is deleted, and what is theirs becomes the
    class's own tutor's.
    """
    ledger = get_context().ledger
    if person().role == "site":
        if tutor_id not in ledger.external_ids.by_person(owner_id(), class_id):
            raise NotAllowed("A course site removes only tutors whom it has put here.")
    elif tutor_id != owner_id():
        check_owns(class_id)
    ledger.second_tutors.remove(class_id, tutor_id)
    return Response(status=204)


def check_owns(class_id: str) -> None:
    """Check that the class is the own one of whoever asks.

    Raises:
        NotAllowed: They are a second tutor there.
        NotFound: They do not teach there.
    """
    if get_context().ledger.classes.get(class_id, owner_id()).tutor_id != owner_id():
        raise NotAllowed("This class is another tutor's, who alone adds and removes tutors.")
