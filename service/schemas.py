"""What goes over the wire besides spec and plan; the OpenAPI document is made of these."""

from __future__ import annotations

from typing import Any

from flask_smorest.fields import Upload  # type: ignore[import-untyped]  # It has no types.
from marshmallow import EXCLUDE, RAISE, Schema, fields, pre_load, validate

from service.allowance import started_from
from worker.contract import PlanSchema, SpecSchema
from worker.contract.fields import Line, Number
from worker.layout.proportion import MOST_PROPORTION
from worker.ledger import PACK_STATES

REFERENCE_ID = r"ref_[A-Za-z0-9_-]{16,60}"
PACK_ID = r"pck_[A-Za-z0-9_-]{16,60}"
STUDENT_ID = r"stu_[A-Za-z0-9_-]{16,60}"
MAX_TITLE_LETTERS = 200
KEY = r"^[\x21-\x7e]{1,255}$"
SHA256 = r"^[0-9a-f]{64}$"


class Strict(Schema):
    """Unknown fields are refused."""

    class Meta:
        """Unknown fields are refused."""

        unknown = RAISE


class AlreadyJson(fields.Nested):
    """A part that was written by its own schema before."""

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:  # type: ignore[override]  # The base names it otherwise.
        return value


class UploadSchema(Strict):
    """A photo, sent as a form."""

    file = Upload(required=True, metadata={"description": "The photo; its content decides."})


class KeySchema(Schema):
    """The same key with the same request makes one thing and gives one answer."""

    class Meta:
        """Other headers are none of our business."""

        unknown = EXCLUDE

    idempotency_key = fields.String(
        data_key="Idempotency-Key",
        load_default=None,
        validate=validate.Regexp(KEY, error="Give 1 to 255 printable ASCII characters."),
    )


class PlanRequestSchema(Strict):
    """What a plan is asked for with."""

    reference_id = fields.String(
        required=True, validate=validate.Regexp(f"^{REFERENCE_ID}$", error="This is no such id.")
    )
    spec = fields.Nested(SpecSchema, required=True)

    @pre_load
    def start_from_the_class(self, wish: Any, **_: Any) -> Any:
        """A student's spec starts from what their tutor has settled."""
        return started_from(wish)


class PackRequestSchema(PlanRequestSchema):
    """What a pack is asked for with."""

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


class SquareSchema(Strict):
    """Where a picture lies in a photo; whether corners and proportion will do, layout says."""

    corners = fields.List(
        fields.List(
            Number(metadata={"minimum": 0, "maximum": 1}), validate=validate.Length(equal=2)
        ),
        required=True,
        validate=validate.Length(equal=4),
        metadata={
            "description": "x and y of the four corners in any order, in shares of the upright "
            "photo from its top left."
        },
    )
    proportion = Number(
        load_default=None,
        allow_none=True,
        metadata={
            "minimum": 1 / MOST_PROPORTION,
            "maximum": MOST_PROPORTION,
            "description": "Width ÷ height, where it is known; else it is estimated.",
        },
    )


class ReferencesQuerySchema(Strict):
    """Which photos are asked after."""

    sha256 = fields.String(
        required=True,
        validate=validate.Regexp(SHA256, error="Give 64 small hexadecimal digits."),
        metadata={"description": "SHA-256 of the photo's bytes (FIPS 180-4), in hexadecimal."},
    )


class ReferenceLinksSchema(Schema):
    """Addresses that belong to a reference."""

    self = fields.String(required=True)
    preview = fields.String(required=True)


class ReferenceSchema(Schema):
    """The photo, as it was taken in."""

    id = fields.String(required=True)
    width_px = fields.Integer(required=True)
    height_px = fields.Integer(required=True)
    format = fields.String(required=True)
    created_at = fields.DateTime(required=True)
    delete_after = fields.DateTime(allow_none=True)
    owner_id = fields.String(required=True)
    squared_from = fields.String(
        attribute="made_from",
        allow_none=True,
        metadata={"description": "The photo that it was squared up from, and goes with."},
    )
    links = fields.Nested(ReferenceLinksSchema, required=True)


class ReferencesSchema(Schema):
    """Photos, the newest first."""

    items = fields.List(fields.Nested(ReferenceSchema), required=True)


class ProgressSchema(Schema):
    """Pieces done of pieces to do."""

    done = fields.Integer(required=True)
    total = fields.Integer(required=True)
    step = fields.String(required=True)


class FailureSchema(Schema):
    """Why a pack has no files."""

    code = fields.String(required=True)
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

    `data` is JSON: `state` and `progress` of the pack, and in the last message, where
    `state` is one in which it has ended, the whole pack.
    """

    id = fields.String()
    event = fields.String()
    data = fields.String(required=True)


class NamedSizeSchema(Schema):
    """A size that is known by name, upright."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    width_mm = fields.Float(required=True)
    height_mm = fields.Float(required=True)
    source = fields.String(required=True)


class SizesSchema(Schema):
    """Sizes that are known by name."""

    items = fields.List(fields.Nested(NamedSizeSchema), required=True)


class HealthSchema(Schema):
    """The service answers."""

    status = fields.String(required=True)
    checks = fields.Dict(keys=fields.String(), values=fields.String())


class ProblemSchema(Schema):
    """Problem details (RFC 9457); `code` is what a program should tell errors by."""

    type = fields.String(required=True)
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    code = fields.String(required=True)
    detail = fields.String(required=True)
    field_at_fault = fields.String(
        data_key="field", metadata={"description": "Dotted path of the field at fault."}
    )
    fields_at_fault = fields.Dict(
        data_key="fields",
        keys=fields.String(),
        values=fields.List(fields.String()),
        metadata={"description": "Every field at fault, with what is wrong."},
    )
    checks = fields.Dict(keys=fields.String(), values=fields.String())
    readable_share = fields.Float(
        metadata={"description": "About how much of a damaged photo can be read, 0 to 1."}
    )
    request_id = fields.String(metadata={"description": "What to look for in the log."})
