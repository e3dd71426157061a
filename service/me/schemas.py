"""Schemas of the person who asks."""

from __future__ import annotations

from marshmallow import Schema, fields

from service.classes.schemas import ClassSchema
from service.people.schemas import PersonSchema
from service.sites.schemas import SessionSchema, SiteSchema


class UsageSchema(Schema):
    """What a student has used of the class's limits."""

    photos = fields.Integer(required=True)
    packs = fields.Integer(required=True)
    pages = fields.Integer(required=True)


class MeSchema(Schema):
    """The person who asks, their class, and what they have used of its limits."""

    person = fields.Nested(PersonSchema, required=True)
    class_ = fields.Nested(ClassSchema, data_key="class", attribute="class")
    usage = fields.Nested(UsageSchema)
    site = fields.Nested(SiteSchema, metadata={"description": "Where a course site asks."})
    session = fields.Nested(
        SessionSchema, metadata={"description": "Where a student asks in a site's page."}
    )
    keep_days = fields.Integer(
        allow_none=True,
        required=True,
        metadata={"description": "How long what you send is kept; null: until you delete it."},
    )
