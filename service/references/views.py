"""References: uploading, finding, showing, squaring up and deleting photos."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Any, BinaryIO, cast

from flask import Response
from werkzeug.datastructures import FileStorage

from service.access.class_limits import check_open, check_room
from service.http.answers.downloads import files
from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.paging import PagedList
from service.http.resources import Resources
from service.http.schemas import KeySchema
from service.references.documents import reference_document
from service.references.files import check_files, has_files
from service.references.intake import square_reference_up, take_photo_in
from service.references.schemas import (
    DeleteReferenceSchema,
    ReferenceSchema,
    ReferencesQuerySchema,
    ReferencesSchema,
    SquareSchema,
    TakeInSchema,
    UploadSchema,
)
from service.runtime.context import get_context, owner_for, owner_id
from service.runtime.file_deletion import delete_files
from service.runtime.idempotency import fingerprint_of_file, idempotent
from worker.errors import (
    ClassClosed,
    CornersUnusable,
    LimitReached,
    NotFound,
    PhotoError,
    ReferenceGone,
    ReferenceTooLarge,
    ReferenceTooSmall,
)
from worker.store.ledger import ReferenceRow

blueprint = Resources(
    "references", __name__, url_prefix="/v1/references", description="Photos to work from."
)
_FOUND = PagedList[ReferenceRow](name="found", place=lambda row: (row.created_at, row.id))


@blueprint.post("")
@blueprint.refuses(PhotoError, NotFound, ClassClosed, LimitReached)
@blueprint.arguments(UploadSchema, location="files")
@blueprint.arguments(TakeInSchema, location="query")
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, ReferenceSchema)
def create_reference(
    upload: dict[str, FileStorage], query: dict[str, Any], headers: dict[str, Any]
) -> Response:
    """Take a photo in.

    JPEG, PNG, WebP, TIFF, HEIC or AVIF; its content decides, not its name. It is turned
    upright, its colours are read by its profile, and everything that it tells of place,
    person and camera is dropped. A photo that is damaged is refused with the share that can be
    read; `accept_damaged=true` takes that as it is.
    """
    photo = cast("BinaryIO", upload["file"].stream)
    owner, as_it_is = owner_for(query["student_id"]), query["accept_damaged"]
    call_name = f"POST /v1/references {owner}{' as it is' if as_it_is else ''}"
    _check_size(photo, get_context().settings.max_upload_bytes)
    with idempotent(
        headers["idempotency_key"],
        lambda: fingerprint_of_file(call_name, photo),
        status=201,
        document=reference_document,
    ) as call:
        if call.replayed is not None:
            return call.replayed
        # After the replay: an upload that reached the class's limit may be sent again.
        check_open()
        check_room()
        row = take_photo_in(get_context(), photo, owner, call.kept_answer, accept_damaged=as_it_is)
        return call.respond(row)


def _check_size(photo: BinaryIO, most: int) -> None:
    size = photo.seek(0, 2)
    photo.seek(0)
    if size > most:
        detail = f"The photo has {size:,} bytes; at most {most:,} are accepted."
        raise ReferenceTooLarge(detail, field="file")


@blueprint.get("")
@blueprint.arguments(ReferencesQuerySchema, location="query")
@blueprint.response(200, ReferencesSchema, headers=LIST_HEADERS)
def find_references(query: dict[str, Any]) -> Response:
    """Find the photos that have these bytes, so that none needs to be sent twice.

    One whose files are gone is not found: it must be sent again.
    """
    page = _FOUND.page(query)
    found = get_context().ledger.references_of(query["sha256"], owner_id(), page)
    return _FOUND.respond(
        found,
        page,
        lambda rows: {"items": [reference_document(row) for row in rows if has_files(row.id)]},
    )


@blueprint.get("/<reference_id:reference_id>")
@blueprint.response(200, ReferenceSchema)
def get_reference(reference_id: str) -> Response:
    """Show what is known of a photo."""
    return json_response(
        reference_document(get_context().ledger.reference(reference_id, owner_id()))
    )


@blueprint.get("/<reference_id:reference_id>/preview.jpg")
@blueprint.refuses(ReferenceGone)
@blueprint.sends_file("image/jpeg")
def get_reference_preview(reference_id: str) -> Response:
    """The photo in small, upright and in sRGB, without anything it told of its making."""
    row = get_context().ledger.reference(reference_id, owner_id())
    check_files(row.id)
    resources = ExitStack()
    path = resources.enter_context(get_context().storage.file(f"{row.files_key}/preview.jpg"))
    tag = files.etag(row.id, "preview")
    return files.send(path, resources, name="preview.jpg", tag=tag, digests=get_context().digests)


@blueprint.post("/<reference_id:reference_id>/squared")
@blueprint.refuses(CornersUnusable, ReferenceTooSmall, ReferenceGone, ClassClosed, LimitReached)
@blueprint.arguments(SquareSchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, ReferenceSchema)
def square_reference(body: dict[str, Any], headers: dict[str, Any], reference_id: str) -> Response:
    """Make a photo of its own of a picture or sketch in this one, seen straight on.

    Its four corners may come in any order; it is never mirrored, and stands as it does in
    the photo. Without `proportion` that is estimated from the perspective. The new photo is
    worked with as any other, and is deleted with this one.
    """
    with idempotent(headers["idempotency_key"], status=201, document=reference_document) as call:
        if call.replayed is not None:
            return call.replayed
        check_open()
        origin = get_context().ledger.own_reference(reference_id, owner_id())
        check_files(origin.id)
        check_room()
        return call.respond(square_reference_up(get_context(), origin, body, call.kept_answer))


@blueprint.delete("/<reference_id:reference_id>")
@blueprint.arguments(DeleteReferenceSchema, location="query")
@blueprint.response(204)
def delete_reference(query: dict[str, Any], reference_id: str) -> None:
    """Delete the photo, and all that was made from it, at once."""
    delete_files(get_context().ledger.delete_reference(reference_id, owner_id(), **query))
