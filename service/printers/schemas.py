"""Schemas of printers, of readings of the test page, and of sizes with names."""

from __future__ import annotations

from typing import Any, get_args

from marshmallow import Schema, fields, validate

from service.http.schemas import StrictInteger, StrictSchema
from worker.layout.measuring.printer_readings import Verdict
from worker.spec.formats import SHEET_FORMATS
from worker.spec.json.fields import Line, Number, between, choice
from worker.spec.json.spec_schema import MAX_MARGIN_MM, MAX_PRINTER_NAME
from worker.words.languages import LANGUAGES

CLASS_ID = r"^cls_[A-Za-z0-9_-]{16,60}$"
#: Readings outside are refused: shorter than a ruler shows, or longer than any sheet. A reading
#: in a wrong unit is inside, and is judged.
_SHORTEST_MM, _LONGEST_MM = 0.1, 10_000.0


def _format_field(**options: Any) -> fields.String:
    """A sheet format that has a test page."""
    return fields.String(
        validate=choice(*SHEET_FORMATS),
        metadata={"description": "A PWG 5101.1 name that GET /v1/sheet-formats lists."},
        **options,
    )


def _reading_field(way: str, **options: Any) -> Number:
    """The length of a bar in mm, or null where it was not measured."""
    description = f"What the bar {way} measured, from end to end or from ring to ring, in mm."
    return Number(
        allow_none=True,
        validate=between(_SHORTEST_MM, _LONGEST_MM),
        metadata={"description": description},
        **options,
    )


def _name_field(**options: Any) -> Line:
    """The printer's name, which is printed on packs."""
    return Line(most=MAX_PRINTER_NAME, written=True, **options)


def _class_field(**options: Any) -> fields.String:
    """The class that a tutor shares the printer with."""
    no_id = validate.Regexp(CLASS_ID, error="This is no such id.")
    return fields.String(allow_none=True, validate=no_id, **options)


class PrinterMarginsSchema(StrictSchema):
    """The unprintable margin at each edge of the upright sheet, in mm."""

    top = Number(required=True, validate=between(0, MAX_MARGIN_MM))
    right = Number(required=True, validate=between(0, MAX_MARGIN_MM))
    bottom = Number(required=True, validate=between(0, MAX_MARGIN_MM))
    left = Number(required=True, validate=between(0, MAX_MARGIN_MM))


class PageQuerySchema(StrictSchema):
    """The sheet format of the test page, and its language."""

    format = _format_field(load_default="iso_a4_210x297mm")
    language = fields.String(
        load_default=None,
        allow_none=False,
        validate=choice(*LANGUAGES),
        metadata={"description": "By default the class's, else that of `Accept-Language`."},
    )


class ReadingsRequestSchema(StrictSchema):
    """Readings of a test page."""

    format = _format_field(required=True)
    across_mm = _reading_field("across", load_default=None)
    down_mm = _reading_field("down", load_default=None)


class NewPrinterSchema(ReadingsRequestSchema):
    """A printer that was measured."""

    name = _name_field(required=True)
    margin_mm = fields.Nested(PrinterMarginsSchema, load_default=None, allow_none=True)
    class_id = _class_field(load_default=None)


class PrinterChangeSchema(StrictSchema):
    """Changes to a printer."""

    name = _name_field()
    format = _format_field()
    across_mm = _reading_field("across")
    down_mm = _reading_field("down")
    margin_mm = fields.Nested(PrinterMarginsSchema, allow_none=True)
    class_id = _class_field()


class ReadingSchema(Schema):
    """A judged reading.

    `correction` and `uncertainty` are null where the reading cannot be used; `advice` says
    why, and what to do.
    """

    measured_mm = fields.Float(required=True)
    nominal_mm = fields.Float(required=True)
    correction = fields.Float(required=True, allow_none=True)
    uncertainty = fields.Float(required=True, allow_none=True)
    verdict = fields.String(required=True, validate=validate.OneOf(get_args(Verdict)))
    advice = fields.String(required=True)


class ReadingsSchema(Schema):
    """Both readings, judged."""

    format = fields.String(required=True)
    across = fields.Nested(ReadingSchema, required=True, allow_none=True)
    down = fields.Nested(ReadingSchema, required=True, allow_none=True)


class PrinterLinksSchema(Schema):
    """Addresses that belong to a printer."""

    self = fields.String(required=True)
    test_page = fields.String(required=True)


class PrinterSchema(ReadingsSchema):
    """A printer, with the corrections for its packs."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    across_correction = fields.Float(required=True)
    down_correction = fields.Float(required=True)
    margin_mm = fields.Nested(PrinterMarginsSchema, required=True, allow_none=True)
    class_id = fields.String(required=True, allow_none=True)
    owner_id = fields.String(required=True)
    created_at = fields.DateTime(required=True)
    links = fields.Nested(PrinterLinksSchema, required=True)


class PrintersSchema(Schema):
    """Printers, the oldest first, and how many one may have."""

    items = fields.List(fields.Nested(PrinterSchema), required=True)
    most = StrictInteger(required=True)


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
