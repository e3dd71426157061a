"""What people sign in with, and what they and their keys are shown as."""

from __future__ import annotations

from marshmallow import Schema, fields, validate

from service.http.schemas import MAX_NAME_LETTERS, StrictSchema, name_field
from worker.spec.json.fields import Line
from worker.store.ledger import ROLES


class NameSchema(StrictSchema):
    """What someone or something is called."""

    name = name_field(required=True)


class SignInSchema(StrictSchema):
    """A key that somebody was given."""

    key = fields.String(required=True, validate=validate.Length(min=1, max=200))


class LabelSchema(StrictSchema):
    """Which device a key is for."""

    label = Line(most=MAX_NAME_LETTERS, load_default="")


class SelfSchema(Schema):
    """Where something is found."""

    self = fields.String(required=True)


class PersonSchema(Schema):
    """Someone."""

    id = fields.String(required=True)
    role = fields.String(required=True, validate=validate.OneOf(ROLES))
    name = fields.String(required=True)
    class_id = fields.String()
    tutor_id = fields.String()
    created_at = fields.DateTime()
    links = fields.Nested(SelfSchema)


class IssuedSchema(Schema):
    """Someone with a new key, which is shown this once and never again."""

    person = fields.Nested(PersonSchema, required=True)
    key = fields.String(required=True)
    key_id = fields.String(required=True)


class PeopleSchema(Schema):
    """Several people."""

    items = fields.List(fields.Nested(PersonSchema), required=True)


class KeyShownSchema(Schema):
    """A key, or a browser that is signed in, without what it opens with."""

    id = fields.String(required=True)
    kind = fields.String(required=True, validate=validate.OneOf(["key", "browser"]))
    label = fields.String(required=True)
    here = fields.Boolean(required=True, metadata={"description": "It is the one that asks."})
    created_at = fields.DateTime(required=True)
    last_used_at = fields.DateTime(allow_none=True)
    ends_at = fields.DateTime(
        allow_none=True, metadata={"description": "When it is signed out if it is not used."}
    )


class KeysSchema(Schema):
    """Keys that open."""

    items = fields.List(fields.Nested(KeyShownSchema), required=True)
