"""Schemas of packs, plans and events, from which the OpenAPI document is generated."""

from __future__ import annotations

from marshmallow import (
    Schema,
    fields,
    validate,
)

from service.http.answers.problems import CODES
from service.http.paging import ListQuerySchema
from service.http.schemas import (
    MAX_TITLE_LETTERS,
    REFERENCE_ID,
    STUDENT_ID,
    AlreadyJson,
    StrictSchema,
)
from worker.spec.json import PlanSchema, SpecSchema
from worker.spec.json.fields import Flag, Line
from worker.store.ledger import PACK_STATES


class PlanRequestSchema(StrictSchema):
    """The body of a request for a plan."""

    reference_id = fields.String(
        required=True, validate=validate.Regexp(f"^{REFERENCE_ID}$", error="This is no such id.")
    )
    spec = fields.Nested(SpecSchema, required=True)


class PackRequestSchema(PlanRequestSchema):
    """The body of a request for a pack."""

    title = Line(
        most=MAX_TITLE_LETTERS,
        load_default="",
        metadata={"description": "Printed on map and sheets."},
    )
    student_id = fields.String(
        load_default=None,
        validate=validate.Regexp(f"^{STUDENT_ID}$", error="This is no such id."),
        metadata={"description": "For whom a tutor asks; without it, whose the photo is."},
    )


class ProgressSchema(Schema):
    """Pieces done of pieces to do."""

    done = fields.Integer(required=True)
    total = fields.Integer(required=True)
    step = fields.String(required=True)


class FailureSchema(Schema):
    """Why a pack has no files."""

    code = fields.String(required=True, validate=validate.OneOf(CODES))
    detail = fields.String(required=True)


class PackLinksSchema(Schema):
    """Addresses that belong to a pack."""

    self = fields.String(required=True)
    events = fields.String(required=True)
    reference = fields.String(required=True)


class SheetFilesSchema(Schema):
    """One sheet alone, for a reprint."""

    label = fields.String(required=True)
    pdf = fields.String(required=True)
    png = fields.String(required=True)


class FilesSchema(Schema):
    """Addresses of what was made."""

    pack = fields.String(required=True)
    map = fields.String(required=True)
    picture = fields.String(required=True)
    thumbnail = fields.String(required=True)
    sheets = fields.List(fields.Nested(SheetFilesSchema), required=True)


class PackSchema(Schema):
    """A pack as it stands.

    `files` is there when it is ready, `error` when it failed, `number` once it is made.
    """

    id = fields.String(required=True)
    title = fields.String(required=True)
    number = fields.String()
    state = fields.String(required=True, validate=validate.OneOf(PACK_STATES))
    progress = fields.Nested(ProgressSchema, required=True)
    created_at = fields.DateTime(required=True)
    links = fields.Nested(PackLinksSchema, required=True)
    files = fields.Nested(FilesSchema)
    error = fields.Nested(FailureSchema)
    printed_at = fields.DateTime(allow_none=True)
    joined_at = fields.DateTime(allow_none=True)
    delete_after = fields.DateTime(allow_none=True)
    owner_id = fields.String(required=True)
    spec = AlreadyJson(SpecSchema, required=True)
    plan = AlreadyJson(PlanSchema)


class EventSchema(Schema):
    """One message of a stream.

    `data` is JSON: `state` and `progress` of the pack or batch, and in the last message, where
    `state` is one in which it has ended, the whole of it.
    """

    id = fields.String()
    event = fields.String()
    data = fields.String(required=True)


class MarkSchema(StrictSchema):
    """Marks that people set on a pack."""

    printed = Flag()
    joined = Flag()


class PackOnBoardSchema(Schema):
    """A pack without its plan and spec."""

    id = fields.String(required=True)
    title = fields.String(required=True)
    number = fields.String()
    state = fields.String(required=True, validate=validate.OneOf(PACK_STATES))
    progress = fields.Nested(ProgressSchema, required=True)
    sheets = fields.Integer(required=True)
    created_at = fields.DateTime(required=True)
    printed_at = fields.DateTime(allow_none=True)
    joined_at = fields.DateTime(allow_none=True)
    error = fields.Nested(FailureSchema)
    links = fields.Nested(PackLinksSchema, required=True)


class ThumbnailSchema(Schema):
    """The file that a list shows of a pack that is ready."""

    thumbnail = fields.String(required=True)


class ListedPackSchema(PackOnBoardSchema):
    """A pack as its owner's list has it: without its plan.

    With `spec` and the photo in `links` another can be made of it. A photo that is deleted takes
    its packs along.
    """

    spec = AlreadyJson(SpecSchema, required=True)
    files = fields.Nested(ThumbnailSchema)
    delete_after = fields.DateTime(allow_none=True)


class PacksSchema(Schema):
    """Several packs, the newest first."""

    items = fields.List(fields.Nested(ListedPackSchema), required=True)


class PacksQuerySchema(ListQuerySchema):
    """Which of one's packs are asked for."""

    number = fields.String(
        load_default=None,
        validate=validate.Length(max=32),
        metadata={
            "description": "The number on a sheet: small letters, hyphens and spaces do not "
            "matter, nor do the letters O, I and L, which are read for figures."
        },
    )


class DeletePackSchema(StrictSchema):
    """What else is deleted with a pack."""

    with_photo = fields.Boolean(
        load_default=False,
        metadata={
            "description": "Also the photo, and the one that it was squared up from, if they are "
            "one's own and nothing else is made from them."
        },
    )
