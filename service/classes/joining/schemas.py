"""Schemas of joining: the code, the page that asks for a name, and links to a new key."""

from __future__ import annotations

from marshmallow import Schema, fields, validate

from service.http.schemas import StrictSchema, name_field, student_id_field
from service.people.schemas import LabelSchema


class CodeSchema(StrictSchema):
    """The class code on the board."""

    code = fields.String(
        required=True,
        validate=validate.Length(min=1, max=40),
        metadata={"description": "The class code on the board."},
    )


class JoinSchema(CodeSchema):
    """The student who joins: the id of a free place on the roster, or a name."""

    student_id = student_id_field()
    name = name_field()
    label = LabelSchema().fields["label"]


class FreeNameSchema(Schema):
    """A student on the roster who has not joined yet."""

    student_id = fields.String(required=True)
    name = fields.String(required=True)


class JoinPageSchema(Schema):
    """The data of the join page; names only where the tutor allows it."""

    class_name = fields.String(required=True)
    open_roster = fields.Boolean(required=True)
    names = fields.List(fields.Nested(FreeNameSchema), allow_none=True, required=True)
    keep_days = fields.Integer(required=True)


class KeyLinkSchema(Schema):
    """A link that gives a student's device a new key, once."""

    url = fields.String(required=True)
    qr_svg = fields.String(
        required=True, metadata={"description": "The same as a QR code, an SVG image."}
    )
    ends_at = fields.DateTime(required=True)


class UsedLinkSchema(StrictSchema):
    """What a link to a new key holds."""

    secret = fields.String(
        required=True,
        validate=validate.Length(min=1, max=200),
        metadata={"description": "What follows `#new-key=` in the link."},
    )
    label = LabelSchema().fields["label"]
