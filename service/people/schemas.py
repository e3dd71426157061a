"""Schemas of people, keys and sign-in."""

from __future__ import annotations

from marshmallow import Schema, fields, validate

from service.http.schemas import MAX_NAME_LETTERS, StrictSchema, name_field
from worker.spec.json.fields import Line
from worker.store.ledger import ROLES


class NameSchema(StrictSchema):
    """A name."""

    name = name_field(required=True)


class SignInSchema(StrictSchema):
    """An access key to sign in with."""

    key = fields.String(required=True, validate=validate.Length(min=1, max=200))


class LabelSchema(StrictSchema):
    """A label of a key, such as the device that it is for."""

    label = Line(most=MAX_NAME_LETTERS, load_default="")


class SelfSchema(Schema):
    """The path of a thing."""

    self = fields.String(required=True)


class PersonSchema(Schema):
    """A person."""

    id = fields.String(required=True)
    role = fields.String(required=True, validate=validate.OneOf(ROLES))
    name = fields.String(required=True)
    class_id = fields.String()
    tutor_id = fields.String()
    created_at = fields.DateTime()
    links = fields.Nested(SelfSchema)


class IssuedSchema(Schema):
    """A person with a new key, which is shown only once."""

    person = fields.Nested(PersonSchema, required=True)
    key = fields.String(required=True)
    key_id = fields.String(required=True)


class KeyShownSchema(Schema):
    """A key, or a browser that is signed in, without its secret."""

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
    """Valid keys and sign-ins."""

    items = fields.List(fields.Nested(KeyShownSchema), required=True)
