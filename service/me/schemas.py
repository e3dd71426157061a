"""Whoever asks: who they are, what their class allows, what they have."""

from __future__ import annotations

from marshmallow import Schema, fields

from service.classes.schemas import ClassSchema
from service.people.schemas import PersonSchema


class UsageSchema(Schema):
    """What a student has, as the class's limits count it."""

    photos = fields.Integer(required=True)
    packs = fields.Integer(required=True)
    pages = fields.Integer(required=True)


class MeSchema(Schema):
    """Who asks, and what their class allows."""

    person = fields.Nested(PersonSchema, required=True)
    class_ = fields.Nested(ClassSchema, data_key="class", attribute="class")
    usage = fields.Nested(UsageSchema)
    keep_days = fields.Integer(
        allow_none=True,
        required=True,
        metadata={"description": "How long what you send is kept; null: until you delete it."},
    )
