"""The board of a class: each student's newest photo, its sharpness, and their pack."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.classes.board.schemas import BoardSchema, StudentOnBoardSchema
from service.classes.board.sharpness import Sharpness, sharpness_in, sharpness_on
from service.classes.documents import class_document, student_document
from service.http.answers.json_responses import tagged_response, utc_datetime
from service.http.resources import Resources
from service.packs.documents import pack_in_short
from service.references.documents import reference_path
from service.runtime.context import get_context, owner_id
from worker.store.ledger import Holding, Json, ReferenceRow, StudentRow

blueprint = Resources("board", __name__, url_prefix="/v1/classes", description="A class at work.")
_LINE = StudentOnBoardSchema()


@blueprint.get("/<class_id:class_id>/board")
@blueprint.tagged(BoardSchema)
def get_board(class_id: str) -> Response:
    """Show how far everybody is; ask again every few seconds."""
    ledger = get_context().ledger
    row = ledger.classes.get(class_id, owner_id())
    holdings = ledger.holdings.of_class(class_id)
    lines = [
        _line(student, holdings.get(student.id, Holding()), row.settings.defaults)
        for student in ledger.students.of_class(class_id)
    ]
    return tagged_response({"class": class_document(row), "students": lines})


def _line(student: StudentRow, holding: Holding, defaults: Json) -> dict[str, Any]:
    """One student with the newest photo and the pack to show."""
    photo = holding.references[0] if holding.references else None
    pack = holding.shown
    line = {
        **student_document(student),
        "photos": len(holding.references),
        "packs": len(holding.packs),
        "asked": holding.asked is not None,
        "photo": None if photo is None else _photo(photo, holding, defaults),
        "pack": None,
    }
    document = dict(_LINE.dump(line))
    if pack is not None:
        document["pack"] = pack_in_short(pack)
    return document


def _photo(photo: ReferenceRow, holding: Holding, defaults: Json) -> dict[str, Any]:
    """A photo, and whether it is sharp enough for its support."""
    support, found = _compared(photo, holding, defaults)
    return {
        "id": photo.id,
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "created_at": utc_datetime(photo.created_at),
        "preview": f"{reference_path(photo.id)}/preview.jpg",
        "compared_with": support,
        "finest_line_mm": found and found.finest_line_mm,
        "too_small": found and found.too_small,
        "blurred": found and found.blurred,
    }


def _compared(
    photo: ReferenceRow, holding: Holding, defaults: Json
) -> tuple[Json | None, Sharpness | None]:
    """The support that a photo is compared with, and how sharp it is there.

    The support is that of the pack made of this photo, else of the pack that the student asked
    for with an earlier one, else the class's default. Packs made of other people's photos do
    not count. Both are None where no support is known.
    """
    made = holding.made_of(photo.id)
    if made is not None and made.plan is not None:
        return made.spec["support"], sharpness_in(made.plan)
    support = holding.asked.spec["support"] if holding.asked else defaults.get("support", {})
    if not {"width_mm", "height_mm"} <= support.keys():
        return None, None
    return support, sharpness_on(photo, support)
