"""The packs of a class by the number that is printed on their sheets."""

from __future__ import annotations

from flask import Response

from service.classes.schemas import ClassPacksSchema, PackNumberSchema
from service.http.answers.json_responses import json_response
from service.http.resources import Resources, request_invalid
from service.packs.documents import pack_document
from service.runtime.context import get_context
from worker.spec.short_codes import CODE_LETTERS, read_code, shown_code
from worker.store.ledger import PackRow, StudentRow

blueprint = Resources(
    "class-packs",
    __name__,
    url_prefix="/v1/classes/<class_id:class_id>/packs",
    description="Packs by what is printed on a sheet.",
)


@blueprint.get("")
@blueprint.arguments(PackNumberSchema, location="query")
@blueprint.response(200, ClassPacksSchema)
def find_class_packs(query: dict[str, str], class_id: str) -> Response:
    """Find whose a sheet is, by the number on it, to print that one sheet again.

    Letters are read as on paper: capitals or not, with the hyphen or without, O as 0.
    """
    number = read_code(query["number"])
    if len(number) != CODE_LETTERS:
        raise request_invalid({"number": ["A number is like 7K3F-Q2ZD: read it again."]})
    ledger = get_context().ledger
    found = ledger.holdings.numbered(class_id, shown_code(number))
    roster = {one.id: one for one in ledger.students.of_class(class_id)} if found else {}
    return json_response({"items": [_line(pack, roster) for pack in found]})


def _line(pack: PackRow, roster: dict[str, StudentRow]) -> dict[str, object]:
    student = roster.get(pack.owner_id)
    named = None if student is None else {"id": student.id, "name": student.name}
    return {"student": named, "pack": pack_document(pack)}
