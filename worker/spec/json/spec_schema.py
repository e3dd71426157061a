"""The spec: every field of the job, with its range.

The ranges keep out what no support, printer or photo has, so that everything behind this
door may count on sensible numbers. What needs the reference or the sheet to be judged
(does the crop have the picture's proportions, are there too many sheets) is judged by the
layout.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, ValidationError, fields, post_load, validate, validates_schema

from worker.spec.json.field_errors import spec_invalid
from worker.spec.json.fields import (
    MIN_SHARE,
    Flag,
    Line,
    Number,
    Record,
    TupleOf,
    between,
    choice,
    step_of,
)
from worker.spec.spec import (
    Area,
    Focus,
    Grid,
    Margins,
    Outline,
    Print,
    Seams,
    Sheet,
    Spec,
    Support,
    Tone,
    Values,
)
from worker.spec.strokes import PEN_WIDTHS_MM
from worker.words.languages import LANGUAGES

#: Supports from a stamp to a wall.
MIN_SUPPORT_MM, MAX_SUPPORT_MM = 20.0, 10_000.0
MAX_MARGIN_MM = 60.0
#: The narrowest picture of the longest photo, and the widest turned crop of one.
MIN_CROP_SHARE, MAX_CROP_SHARE = 1e-6, 100.0
MAX_LAP_MM = 30.0
#: From what the longest rule shows on 600 mm to what anybody sees.
LEAST_WITHIN_MM, MOST_WITHIN_MM = 0.25, 6.0
MAX_PROTECTED = 50
#: A printer's own error stays under about two percent (common practice); what lies beyond
#: is page fitting, which is switched off and not compensated. A print that measures 98 % is
#: still within it, and wants 1 / 0.98.
MIN_CORRECTION, MAX_CORRECTION = 0.98, 1.0205
_FITTING = (
    "A printer is never off by more than 2 %: page fitting is on. "
    "Print at actual size and measure again."
)
MIN_VALUES, MAX_VALUES = 3, 7
#: Squares from those of a sketchbook to those of a wall.
MIN_SQUARE_MM, MAX_SQUARE_MM = 5.0, 2_000.0
MAX_PRINTER_NAME = 60
#: left + width may miss 1 by what decimal fractions miss in binary.
_SLACK = 1e-9


class SupportSchema(Record):
    """The paper or board drawn on."""

    makes = Support

    width_mm = Number(required=True, validate=between(MIN_SUPPORT_MM, MAX_SUPPORT_MM))
    height_mm = Number(required=True, validate=between(MIN_SUPPORT_MM, MAX_SUPPORT_MM))
    border_mm = Number(load_default=Support.border_mm, validate=between(0, MAX_SUPPORT_MM / 2))
    tone = fields.String(load_default=Support.tone, validate=choice("light", "mid", "dark"))
    medium = fields.String(
        load_default=Support.medium,
        validate=choice("graphite", "coloured-pencil", "pastel", "paint", "other"),
        metadata={"description": "What is drawn with: decides cautions and method in the guide."},
    )


class AreaSchema(Record):
    """A rectangle in shares of what it lies on."""

    makes = Area

    left = Number(required=True, validate=between(0, 1))
    top = Number(required=True, validate=between(0, 1))
    width = Number(required=True, validate=between(MIN_SHARE, 1))
    height = Number(required=True, validate=between(MIN_SHARE, 1))

    @validates_schema(skip_on_field_errors=True)
    def lies_inside(self, data: dict[str, Any], **_: Any) -> None:
        """No area reaches beyond what it lies on."""
        for start, extent in (("left", "width"), ("top", "height")):
            if data[start] + data[extent] > 1 + _SLACK:
                raise ValidationError(f"{start} + {extent} must not exceed 1.", extent)


class CropSchema(Record):
    """The crop before it is turned about its own centre.

    A turned crop may lie inside the reference while the same crop, not turned, does not;
    so the range is wide here, and the layout says when the turned one reaches beyond.
    """

    makes = Area

    left = Number(required=True, validate=between(-MAX_CROP_SHARE, MAX_CROP_SHARE))
    top = Number(required=True, validate=between(-MAX_CROP_SHARE, MAX_CROP_SHARE))
    width = Number(required=True, validate=between(MIN_CROP_SHARE, MAX_CROP_SHARE))
    height = Number(required=True, validate=between(MIN_CROP_SHARE, MAX_CROP_SHARE))


class FocusSchema(Record):
    """The point that the crop should have near its middle."""

    focus = TupleOf(
        Number(validate=between(0, 1)), required=True, validate=validate.Length(equal=2)
    )

    @post_load
    def build(self, data: dict[str, Any], **_: Any) -> Focus:
        """The point."""
        x, y = data["focus"]
        return Focus(x=x, y=y)


class CropField(fields.Field[Any]):
    """An area, or `{"focus": [x, y]}`, or null for the largest crop at the centre."""

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:
        if isinstance(value, Focus):
            return {"focus": [value.x, value.y]}
        return None if value is None else CropSchema().dump(value)

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> Any:
        if isinstance(value, Mapping) and "focus" in value:
            return FocusSchema().load(value)
        return CropSchema().load(value)


class OutlineSchema(Record):
    """Which lines are drawn."""

    makes = Outline

    line_mm = Number(load_default=Outline.line_mm, validate=step_of(PEN_WIDTHS_MM))
    detail = Number(load_default=Outline.detail, validate=between(0, 1))
    shortest_mm = Number(load_default=Outline.shortest_mm, validate=between(0, 50))
    shadows = fields.String(
        load_default=Outline.shadows, validate=choice("none", "light", "dashed")
    )


class ValuesSchema(Record):
    """The picture in a few flat tones."""

    makes = Values

    count = fields.Integer(
        strict=True, load_default=Values.count, validate=between(MIN_VALUES, MAX_VALUES)
    )
    thresholds = TupleOf(
        Number(validate=between(0, 1)),
        load_default=None,
        allow_none=True,
        validate=validate.Length(max=MAX_VALUES - 1),
    )
    smallest_mm = Number(load_default=Values.smallest_mm, validate=between(0, 20))

    @validates_schema(skip_on_field_errors=True)
    def thresholds_part_the_tones(self, data: dict[str, Any], **_: Any) -> None:
        """One less than there are tones, each above the one before."""
        thresholds, count = data["thresholds"], data["count"]
        if thresholds is None:
            return
        if len(thresholds) != count - 1:
            raise ValidationError(f"Give {count - 1} numbers for {count} tones.", "thresholds")
        if any(high <= low for low, high in itertools.pairwise(thresholds)):
            raise ValidationError("Give them in ascending order.", "thresholds")


class ToneSchema(Record):
    """How values are printed."""

    makes = Tone

    style = fields.String(
        load_default=Tone.style, validate=choice("grey", "colour", "outline", "mixed", "values")
    )
    full_strength = Flag(load_default=Tone.full_strength)
    lighten = Number(load_default=Tone.lighten, validate=between(0, 1))
    lift = Number(load_default=Tone.lift, validate=between(0, 1))
    contrast = Number(load_default=Tone.contrast, validate=between(-1, 1))
    outline = fields.Nested(OutlineSchema, load_default=Outline())
    values = fields.Nested(ValuesSchema, load_default=Values())


class GridSchema(Record):
    """Squares over the picture."""

    makes = Grid

    square_mm = Number(required=True, validate=between(MIN_SQUARE_MM, MAX_SQUARE_MM))
    diagonals = Flag(load_default=Grid.diagonals)
    line_mm = Number(load_default=Grid.line_mm, validate=step_of(PEN_WIDTHS_MM))


class MarginsSchema(Record):
    """What the printer cannot print, on each edge of the portrait sheet."""

    makes = Margins

    top = Number(load_default=Margins.top, validate=between(0, MAX_MARGIN_MM))
    right = Number(load_default=Margins.right, validate=between(0, MAX_MARGIN_MM))
    bottom = Number(load_default=Margins.bottom, validate=between(0, MAX_MARGIN_MM))
    left = Number(load_default=Margins.left, validate=between(0, MAX_MARGIN_MM))


class SheetSchema(Record):
    """What the printer takes."""

    makes = Sheet

    format = fields.String(
        load_default=Sheet.format,
        validate=validate.Length(min=1, max=64),
        metadata={"description": "A PWG 5101.1 name that GET /v1/sheet-formats lists."},
    )
    margin_mm = fields.Nested(MarginsSchema, load_default=Margins())


class SeamsSchema(Record):
    """How pieces meet."""

    makes = Seams

    joint = fields.String(load_default=Seams.joint, validate=choice("butt", "lap"))
    lap_mm = Number(load_default=Seams.lap_mm, validate=between(0, MAX_LAP_MM))
    arrangement = fields.String(
        load_default=Seams.arrangement, validate=choice("aligned", "staggered")
    )
    placement = fields.String(load_default=Seams.placement, validate=choice("quiet", "even"))
    protect = TupleOf(
        fields.Nested(AreaSchema), load_default=(), validate=validate.Length(max=MAX_PROTECTED)
    )
    register_marks = Flag(
        load_default=Seams.register_marks,
        metadata={"description": "Small marks across each seam, by which it is joined true."},
    )
    within_mm = Number(
        load_default=Seams.within_mm,
        validate=between(LEAST_WITHIN_MM, MOST_WITHIN_MM),
        metadata={"description": "What the joined picture may be off in 600 mm."},
    )

    @validates_schema(skip_on_field_errors=True)
    def lap_has_a_width(self, data: dict[str, Any], **_: Any) -> None:
        """A lap is wider than nothing, and a butt joint has none."""
        if data["joint"] == "lap" and data["lap_mm"] <= 0:
            raise ValidationError("A lap joint needs a lap wider than 0 mm.", "lap_mm")
        if data["joint"] == "butt" and data["lap_mm"] > 0:
            raise ValidationError("A butt joint has no lap: give 0, or joint lap.", "lap_mm")


class PrintSchema(Record):
    """How the pack is printed."""

    makes = Print

    resolution_ppi = Number(load_default=Print.resolution_ppi, validate=between(72, 600))
    mirror = Flag(load_default=Print.mirror)
    black_only = Flag(load_default=Print.black_only)
    across_correction = Number(
        load_default=Print.across_correction,
        validate=between(MIN_CORRECTION, MAX_CORRECTION, why=_FITTING),
    )
    down_correction = Number(
        load_default=Print.down_correction,
        validate=between(MIN_CORRECTION, MAX_CORRECTION, why=_FITTING),
    )
    printer = Line(most=MAX_PRINTER_NAME, load_default=Print.printer)


class SpecSchema(Record):
    """The whole job; all but the support has a default."""

    makes = Spec

    support = fields.Nested(SupportSchema, required=True)
    crop = CropField(load_default=None)
    rotate_deg = Number(load_default=Spec.rotate_deg, validate=between(-45, 45))
    tone = fields.Nested(ToneSchema, load_default=Tone())
    sheet = fields.Nested(SheetSchema, load_default=Sheet())
    seams = fields.Nested(SeamsSchema, load_default=Seams())
    print = fields.Nested(PrintSchema, load_default=Print())
    grid = fields.Nested(GridSchema, load_default=None, allow_none=True)
    language = fields.String(
        load_default=Spec.language,
        validate=choice(*LANGUAGES),
        metadata={"description": "Of what is printed: map, guide, sheets, cover."},
    )

    @validates_schema(skip_on_field_errors=True)
    def crop_lies_inside(self, data: dict[str, Any], **_: Any) -> None:
        """A crop that is not turned lies inside the reference."""
        crop = data["crop"]
        if data["rotate_deg"] or not isinstance(crop, Area):
            return
        for start, extent in (("left", "width"), ("top", "height")):
            if getattr(crop, start) < -_SLACK:
                raise ValidationError({"crop": {start: ["Give a number from 0 to 1."]}})
            if getattr(crop, start) + getattr(crop, extent) > 1 + _SLACK:
                raise ValidationError(
                    {"crop": {extent: [f"{start} + {extent} must not exceed 1."]}}
                )


_SCHEMA = SpecSchema()
#: Parts that are given whole, since parts of two make no valid one.
WHOLE_PARTS = frozenset({"crop", "grid"})


def load_spec(document: Any) -> Spec:
    """Read and check a spec.

    Args:
        document: What a JSON reader made of it.

    Raises:
        SpecInvalid: With every field at fault.
    """
    try:
        spec = _SCHEMA.load(document)
    except ValidationError as error:
        raise spec_invalid(error.messages) from error
    assert isinstance(spec, Spec)  # noqa: S101 -- tells mypy what SpecSchema.build returns.
    return spec


def check_part(part: Mapping[str, Any]) -> None:
    """Check what is given of a spec field by field, whatever it is laid over.

    Rules about two fields are left to the whole spec, whose other fields come from elsewhere.

    Raises:
        ValidationError: With every field that is unknown, or whose value none of it can have.
    """
    wrong = _faults(part, _SCHEMA)
    if wrong:
        raise ValidationError(wrong)


def _faults(part: Mapping[str, Any], schema: Schema) -> dict[str, Any]:
    found = {name: _fault(name, value, schema) for name, value in part.items()}
    return {name: fault for name, fault in found.items() if fault}


def _fault(name: str, value: Any, schema: Schema) -> Any:
    """What is wrong with one field, as marshmallow says it; None: nothing."""
    field = schema.fields.get(name)
    if field is None:
        return [schema.error_messages["unknown"]]
    if isinstance(field, fields.Nested) and isinstance(value, Mapping) and name not in WHOLE_PARTS:
        return _faults(value, field.schema)
    try:
        field.deserialize(value)
    except ValidationError as error:
        return error.messages
    return None


def dump_spec(spec: Spec) -> dict[str, Any]:
    """The spec as JSON, every default written out."""
    return dict(_SCHEMA.dump(spec))
