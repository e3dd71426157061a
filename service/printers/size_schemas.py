"""Schemas of named sizes."""

from __future__ import annotations

from marshmallow import Schema, fields


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
