"""Classes: creating, showing, changing and deleting them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flask import Response

from service.access.settled_spec import start_from
from service.classes.documents import class_document
from service.classes.schemas import (
    ClassChangeSchema,
    ClassCopySchema,
    ClassesSchema,
    ClassSchema,
    NewClassSchema,
    NewPictureSchema,
)
from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.errors import NotAllowed
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources
from service.http.schemas import KeySchema
from service.packs.planner import plan_for
from service.runtime.context import get_context, owner_id, person
from service.runtime.file_deletion import delete_files
from service.runtime.idempotency import idempotent
from worker.errors import LimitReached, ReferenceGone, SpecError
from worker.spec.json import load_spec
from worker.store.ledger import MOST_PRINTERS, ClassRow, ClassSettings, NewClass

blueprint = Resources("classes", __name__, url_prefix="/v1/classes", description="Classes.")
_CLASSES = PagedList[ClassRow](name="classes", place=lambda row: (row.created_at, row.id))


@blueprint.get("")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, ClassesSchema, headers=LIST_HEADERS)
def list_classes(query: dict[str, Any]) -> Response:
    """Show the classes of the tutor who asks, the oldest first."""
    page = _CLASSES.page(query)
    found = get_context().ledger.classes.of_tutor(owner_id(), page)
    return _CLASSES.respond_items(found, page, class_document)


@blueprint.post("")
@blueprint.arguments(NewClassSchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, ClassSchema)
def create_class(body: dict[str, Any], headers: dict[str, Any]) -> Response:
    """Make a class; joining stays closed until its tutor opens it."""
    with idempotent(headers["idempotency_key"], status=201, document=class_document) as call:
        if call.replayed is not None:
            return call.replayed
        settings = _settled(ClassSettings(), _with_defaults(body["settings"]))
        new = NewClass(
            tutor_id=owner_id(),
            name=body["name"],
            settings=settings,
            closes_at=_seconds(body["closes_at"]),
            joining_open=body["joining_open"],
        )
        return call.respond(get_context().ledger.classes.add(new, call.kept_answer))


@blueprint.get("/<class_id:class_id>")
@blueprint.response(200, ClassSchema)
def get_class(class_id: str) -> Response:
    """Show a class, to its students without its code."""
    row = get_context().ledger.classes.get(class_id, owner_id())
    return json_response(class_document(row, tutor=person().role != "student"))


@blueprint.patch("/<class_id:class_id>")
@blueprint.arguments(ClassChangeSchema)
@blueprint.response(200, ClassSchema)
def update_class(body: dict[str, Any], class_id: str) -> Response:
    """Change what is given; a new time of keeping holds for what is there as well."""
    ledger = get_context().ledger
    changes = dict(body)
    if "settings" in changes:
        before = ledger.classes.get(class_id, owner_id()).settings
        changes["settings"] = _settled(before, changes["settings"])
    for name in ("closes_at", "joining_until"):
        if name in changes:
            changes[name] = _seconds(changes[name])
    return json_response(class_document(ledger.classes.change(class_id, owner_id(), changes)))


@blueprint.post("/<class_id:class_id>/copies")
@blueprint.refuses(LimitReached)
@blueprint.arguments(ClassCopySchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, ClassSchema)
def copy_class(body: dict[str, Any], headers: dict[str, Any], class_id: str) -> Response:
    """Make a class like this one for other people: a new term's.

    It takes over settings, your printers that are shared with the class, and the class's picture
    where that is a photo of yours; nobody is on its roster, and joining is closed.
    """
    with idempotent(headers["idempotency_key"], status=201, document=class_document) as call:
        if call.replayed is not None:
            return call.replayed
        new = NewClass(
            tutor_id=owner_id(), name=body["name"], closes_at=_seconds(body["closes_at"])
        )
        classes = get_context().ledger.classes
        return call.respond(classes.copy(class_id, new, MOST_PRINTERS, call.kept_answer))


@blueprint.put("/<class_id:class_id>/picture")
@blueprint.refuses(SpecError, ReferenceGone)
@blueprint.arguments(NewPictureSchema)
@blueprint.response(200, ClassSchema)
def set_class_picture(body: dict[str, Any], class_id: str) -> Response:
    """Make a photo of yours the class's picture, which students can take up as you framed it.

    Everybody in the class sees it. It is kept as long as the class goes on and shows it; when
    you delete the photo, the class has none.
    """
    framed = body["spec"]
    # Framed for a support, it has to fit one; without one, for whichever students choose.
    if {"width_mm", "height_mm"} <= framed.get("support", {}).keys():
        plan_for(body["reference_id"], load_spec(framed))
    photo = get_context().ledger.reference(body["reference_id"], owner_id())
    shown = {"width_px": photo.width_px, "height_px": photo.height_px, "spec": framed}
    row = get_context().ledger.classes.set_picture(class_id, owner_id(), photo.id, shown)
    return json_response(class_document(row))


@blueprint.delete("/<class_id:class_id>/picture")
@blueprint.response(204)
def remove_class_picture(class_id: str) -> Response:
    """Leave the class without a picture; the photo stays, and so do packs made from it."""
    get_context().ledger.classes.set_picture(class_id, owner_id(), None, None)
    return Response(status=204)


@blueprint.delete("/<class_id:class_id>")
@blueprint.response(204)
def delete_class(class_id: str) -> Response:
    """Delete a class with its students and all that is theirs, at once; its own tutor's to do."""
    if get_context().ledger.classes.get(class_id, owner_id()).tutor_id != owner_id():
        raise NotAllowed("This class is another tutor's, who alone can delete it; you can leave.")
    delete_files(get_context().ledger.classes.delete(class_id, owner_id()))
    return Response(status=204)


def _with_defaults(settings: dict[str, Any]) -> dict[str, Any]:
    """A new class's settings: what its defaults leave out is as for every new class."""
    if "defaults" not in settings:
        return settings
    return {**settings, "defaults": start_from(ClassSettings().defaults, settings["defaults"])}


def _settled(before: ClassSettings, changes: dict[str, Any]) -> ClassSettings:
    known = dict(changes)
    if known.get("may_change") is not None:
        known["may_change"] = tuple(known["may_change"])
    return replace(before, **known)


def _seconds(moment: Any) -> float | None:
    return None if moment is None else float(moment.timestamp())
