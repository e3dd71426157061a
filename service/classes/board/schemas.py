"""Schemas of the board of a class."""

from __future__ import annotations

from marshmallow import Schema, fields

from service.classes.schemas import ClassSchema, StudentSchema
from service.http.schemas import SupportSizeSchema
from service.packs.schemas import PackOnBoardSchema


class PhotoOnBoardSchema(Schema):
    """A student's newest photo."""

    id = fields.String(required=True)
    width_px = fields.Integer(required=True)
    height_px = fields.Integer(required=True)
    created_at = fields.DateTime(required=True)
    preview = fields.String(required=True)
    compared_with = fields.Nested(
        SupportSizeSchema,
        allow_none=True,
        required=True,
        metadata={"description": "The support that it is meant for; null: none is known yet."},
    )
    finest_line_mm = fields.Float(allow_none=True, required=True)
    too_small = fields.Boolean(
        allow_none=True,
        required=True,
        metadata={"description": "Whether it is for `compared_with`; null: not compared yet."},
    )
    blurred = fields.Boolean(
        allow_none=True,
        required=True,
        metadata={
            "description": "Whether it was enlarged before or is out of focus, as plans warn with "
            "`reference-blurred`; null: not compared yet."
        },
    )


class StudentOnBoardSchema(StudentSchema):
    """How far a student is."""

    photos = fields.Integer(required=True)
    packs = fields.Integer(required=True)
    asked = fields.Boolean(
        required=True,
        metadata={"description": "Whether they have asked for a pack on their own device."},
    )
    photo = fields.Nested(PhotoOnBoardSchema, allow_none=True, required=True)
    pack = fields.Nested(PackOnBoardSchema, allow_none=True, required=True)


class BoardSchema(Schema):
    """A class at a glance."""

    class_ = fields.Nested(ClassSchema, data_key="class", attribute="class", required=True)
    students = fields.List(fields.Nested(StudentOnBoardSchema), required=True)
