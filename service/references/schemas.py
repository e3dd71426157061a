"""Schemas of references: upload, search, squaring up."""

from __future__ import annotations

from flask_smorest.fields import Upload  # type: ignore[import-untyped]  # It has no types.
from marshmallow import (
    Schema,
    fields,
    validate,
)

from service.http.paging import ListQuerySchema
from service.http.schemas import ForStudentSchema, StrictSchema
from worker.reference.square_up.proportion import MOST_PROPORTION
from worker.spec.json.fields import Number

SHA256 = r"^[0-9a-f]{64}$"


class UploadSchema(StrictSchema):
    """A photo, sent as a form."""

    file = Upload(required=True, metadata={"description": "The photo; its content decides."})


class SquareSchema(StrictSchema):
    """The corners of a picture in a photo; `square_up` checks that they can be used."""

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


class ReferencesQuerySchema(ListQuerySchema):
    """The search for photos."""

    sha256 = fields.String(
        required=True,
        validate=validate.Regexp(SHA256, error="Give 64 small hexadecimal digits."),
        metadata={"description": "SHA-256 of the photo's bytes (FIPS 180-4), in hexadecimal."},
    )


class DeleteReferenceSchema(StrictSchema):
    """Which photos are deleted."""

    if_unused = fields.Boolean(
        load_default=False,
        metadata={
            "description": "Only one from which nothing is made; the photo that it was squared up "
            "from goes with it then, if nothing else is made from that."
        },
    )


class ReferenceLinksSchema(Schema):
    """Addresses that belong to a reference."""

    self = fields.String(required=True)
    preview = fields.String(required=True)


class ReferenceSchema(Schema):
    """A photo."""

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


class TakeInSchema(ForStudentSchema):
    """Options of an upload."""

    accept_damaged = fields.Boolean(
        truthy={"true"},
        falsy={"false"},
        load_default=False,
        metadata={"description": "Take what can be read of a damaged photo as it is."},
    )
