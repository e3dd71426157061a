"""References: taking a photo in, showing it, deleting it with all that was made from it."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Any, BinaryIO, cast

from flask import Response
from werkzeug.datastructures import FileStorage

from service import files
from service.allowance import check_open, check_room, delete_after, most_photos
from service.class_schemas import ForStudentSchema
from service.deleting import delete_files
from service.desk import Desk, desk, owner_for, owner_id
from service.documents import answer, reference_document
from service.idempotency import fingerprint_of_file, once
from service.resources import Resources
from service.schemas import (
    KeySchema,
    ReferenceSchema,
    ReferencesQuerySchema,
    ReferencesSchema,
    UploadSchema,
)
from worker.errors import ReferenceTooLarge
from worker.imaging import Limits, take_in
from worker.ledger import KeepAnswer, ReferenceRow

blueprint = Resources(
    "references", __name__, url_prefix="/v1/references", description="Photos to work from."
)


@blueprint.post("")
@blueprint.arguments(UploadSchema, location="files")
@blueprint.arguments(ForStudentSchema, location="query")
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, ReferenceSchema)
def add(
    upload: dict[str, FileStorage], query: dict[str, str | None], headers: dict[str, Any]
) -> Response:
    """Take a photo in.

    JPEG, PNG, WebP, TIFF, HEIC or AVIF; its content decides, not its name. It is turned
    upright, its colours are read by its profile, and everything that it tells of place,
    person and camera is dropped.
    """
    photo = cast("BinaryIO", upload["file"].stream)
    owner = owner_for(query["student_id"])
    check_open()
    check_room()
    _check_size(photo, desk().settings.max_upload_bytes)
    with once(
        headers["idempotency_key"],
        lambda: fingerprint_of_file(f"POST /v1/references {owner}", photo),
        status=201,
        document=reference_document,
    ) as request:
        if request.replayed is not None:
            return request.again(request.replayed)
        return request.made(_take_in(desk(), photo, owner, request.keep))


def _check_size(photo: BinaryIO, most: int) -> None:
    size = photo.seek(0, 2)
    photo.seek(0)
    if size > most:
        detail = f"The photo has {size:,} bytes; at most {most:,} are accepted."
        raise ReferenceTooLarge(detail, field="file")


def _take_in(at: Desk, photo: BinaryIO, owner: str, keep: KeepAnswer | None) -> ReferenceRow:
    """Files first, then the row: a row never points at nothing."""
    limits = Limits(max_pixels=at.settings.max_pixels, max_bytes=at.settings.max_upload_bytes)
    with at.making.place(), at.storage.workspace() as folder:
        taken = take_in(photo, folder, limits, threads=at.settings.threads)
        row = ReferenceRow(
            owner_id=owner,
            width_px=taken.width_px,
            height_px=taken.height_px,
            format=taken.format,
            sha256=taken.sha256,
            delete_after=delete_after(owner),
        )
        at.storage.publish(folder, row.files_key)
    try:
        row = at.ledger.add_reference(row, keep, most=most_photos())
    except BaseException:
        at.storage.delete(row.files_key)
        raise
    at.studies.put(row.id, taken.study)
    return row


@blueprint.get("")
@blueprint.arguments(ReferencesQuerySchema, location="query")
@blueprint.response(200, ReferencesSchema)
def find(query: dict[str, str]) -> Response:
    """Find the photos that have these bytes, so that none needs to be sent twice."""
    rows = desk().ledger.references_of(query["sha256"], owner_id())
    return answer({"items": [reference_document(row) for row in rows]})


@blueprint.get("/<reference_id:reference_id>")
@blueprint.response(200, ReferenceSchema)
def show(reference_id: str) -> Response:
    """Show what is known of a photo."""
    return answer(reference_document(desk().ledger.reference(reference_id, owner_id())))


@blueprint.get("/<reference_id:reference_id>/preview.jpg")
@blueprint.response(200, {"type": "string", "format": "binary"}, content_type="image/jpeg")
def preview(reference_id: str) -> Response:
    """The photo in small, upright and in sRGB, without anything it told of its making."""
    row = desk().ledger.reference(reference_id, owner_id())
    lent = ExitStack()
    path = lent.enter_context(desk().storage.file(f"{row.files_key}/preview.jpg"))
    tag = files.etag(row.id, "preview")
    return files.send(path, lent, name="preview.jpg", tag=tag, digests=desk().digests)


@blueprint.delete("/<reference_id:reference_id>")
@blueprint.response(204)
def delete(reference_id: str) -> None:
    """Delete the photo, and every pack that was made from it, at once."""
    delete_files(desk().ledger.delete_reference(reference_id, owner_id()))
