"""Schemas of batches and estimates."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, ValidationError, fields, validate, validates_schema

from service.batches.item_table import ItemRequest
from service.http.schemas import MAX_TITLE_LETTERS, REFERENCE_ID, StrictSchema, SupportSizeSchema
from service.packs.schemas import FailureSchema, ProgressSchema
from worker.spec.json import check_part
from worker.spec.json.fields import Flag, Line
from worker.store.ledger import PACK_STATES
from worker.store.ledger.people.students import MOST_STUDENTS

MAX_NOTE_LETTERS = 400
#: A photo for several supports is several items of one student.
MAX_ITEMS = 2 * MOST_STUDENTS
#: Enough for that many items with a title, a note and a spec each.
MAX_BATCH_BYTES = 2_000 * MAX_ITEMS
_AS_ASKED = (
    "Who has asked for a pack on their own device gets that one: their photo, frame, support, "
    "style and seams. Sheets and printer are the batch's; what an item says goes before it."
)


def _title(**more: Any) -> Line:
    return Line(most=MAX_TITLE_LETTERS, **more)


def _note(**more: Any) -> Line:
    described = {"description": "What the cover tells the student."}
    return Line(most=MAX_NOTE_LETTERS, metadata=described, **more)


def _reference() -> fields.String:
    return fields.String(
        load_default=None,
        validate=validate.Regexp(f"^{REFERENCE_ID}$", error="This is no such id."),
        metadata={"description": "The photo; without one, each student's own newest."},
    )


class _SpecPart(fields.Dict):
    """A part of a spec, of which every field is known, and has a value that it can have."""

    def _deserialize(self, value: Any, *args: Any, **more: Any) -> Any:
        part: dict[str, Any] = super()._deserialize(value, *args, **more)  # type: ignore[no-untyped-call]  # marshmallow types it so.
        check_part(part)
        return part


def _spec() -> _SpecPart:
    return _SpecPart(
        keys=fields.String(),
        load_default=dict,
        metadata={
            "description": "Part of a spec, laid over the class's defaults.",
            "x-spec-patch": True,
        },
    )


class Table(fields.Field[Any]):
    """A table as text, or as the bytes of a file, which `classes.spreadsheet` decodes."""

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str | bytes:
        if isinstance(value, str | bytes):
            return value
        raise ValidationError("Give the table as text.")


class BatchItemRequestSchema(StrictSchema):
    """One item of a batch: what differs from the rest."""

    student = fields.String(
        load_default="",
        validate=validate.Length(max=200),
        metadata={"description": "Id or name of one on the roster; empty: your own copy."},
    )
    reference_id = _reference()
    spec = _spec()
    title = _title(load_default=None)
    note = _note(load_default=None)

    def to_item_request(self, item: dict[str, Any]) -> ItemRequest:
        """An item in the form that the rows of a table are read into too."""
        return ItemRequest(**item)


class BatchQuerySchema(StrictSchema):
    """The query that goes with a body of text/csv."""

    title = _title(load_default="")
    reference_id = _reference()
    note = _note(load_default="")
    as_asked = fields.Boolean(load_default=False, metadata={"description": _AS_ASKED})


class BatchRequestSchema(BatchQuerySchema):
    """A batch: what all items share, and what differs in some.

    Without `items` and `table` there is one item for each student on the roster.
    """

    max_json_bytes = MAX_BATCH_BYTES
    spec = _spec()
    as_asked = Flag(load_default=False, metadata={"description": _AS_ASKED})
    items = fields.List(
        fields.Nested(BatchItemRequestSchema),
        load_default=None,
        validate=validate.Length(min=1, max=MAX_ITEMS),
    )
    table = Table(
        load_default=None,
        metadata={
            "type": "string",
            "description": "The same as CSV: a column Student, and columns named as the spec's "
            "fields are (`support.width_mm`).",
        },
    )

    @validates_schema(skip_on_field_errors=True)
    def one_list(self, data: dict[str, Any], **_: Any) -> None:
        """Check that items and a table are not both given."""
        if data["items"] is not None and data["table"] is not None:
            raise ValidationError("Give items or a table, not both.", "table")


class PrintRunQuerySchema(StrictSchema):
    """Options of a print run."""

    covers = fields.Boolean(
        load_default=False,
        metadata={"description": "Each student's cover on top of the pack."},
    )


class StudentNamedSchema(Schema):
    """A student by id and name."""

    id = fields.String(required=True)
    name = fields.String(required=True)


class WarningToldSchema(Schema):
    """A warning of the plan."""

    code = fields.String(required=True)
    detail = fields.String(required=True)


class EstimatedItemSchema(Schema):
    """What one item's pack would take, or the error why it would not be made."""

    position = fields.Integer(required=True)
    student = fields.Nested(StudentNamedSchema, allow_none=True, required=True)
    title = fields.String(required=True)
    reference_id = fields.String()
    support = fields.Nested(SupportSizeSchema)
    sheet_format = fields.String()
    sheets = fields.Integer()
    pages = fields.Integer()
    ink_m2 = fields.Float(metadata={"description": "Paper that ink covers, were it black."})
    warnings = fields.List(fields.Nested(WarningToldSchema), required=True)
    error = fields.Nested(FailureSchema)


class FormatTotalSchema(Schema):
    """Totals of one sheet format; `pages` counts maps and guides too."""

    sheet_format = fields.String(required=True)
    packs = fields.Integer(required=True)
    sheets = fields.Integer(required=True)
    pages = fields.Integer(required=True)


class EstimateSchema(Schema):
    """What a batch would take; nothing is stored."""

    packs = fields.Integer(required=True)
    sheets = fields.Integer(required=True)
    pages = fields.Integer(required=True)
    ink_m2 = fields.Float(required=True)
    formats = fields.List(fields.Nested(FormatTotalSchema), required=True)
    items = fields.List(fields.Nested(EstimatedItemSchema), required=True)


class BatchItemLinksSchema(Schema):
    """Addresses that belong to a line."""

    pack = fields.String(required=True)
    reference = fields.String()


class BatchItemSchema(Schema):
    """One item of a batch; without `pack_id`, `error` says why it has no pack."""

    position = fields.Integer(required=True)
    student = fields.Nested(StudentNamedSchema, allow_none=True, required=True)
    title = fields.String(required=True)
    note = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf([*PACK_STATES, "missing"]))
    progress = fields.Nested(ProgressSchema)
    pack_id = fields.String()
    number = fields.String()
    support = fields.Nested(SupportSizeSchema)
    sheet_format = fields.String()
    sheets = fields.Integer()
    printed = fields.Boolean(required=True)
    joined = fields.Boolean(required=True)
    warnings = fields.List(fields.Nested(WarningToldSchema), required=True)
    error = fields.Nested(FailureSchema)
    links = fields.Nested(BatchItemLinksSchema)


class PrintRunSchema(FormatTotalSchema):
    """One print job: all packs of one sheet format."""

    ready = fields.Integer(required=True)
    path = fields.String(required=True)
    ticket = fields.String(required=True, metadata={"description": "Path of its job ticket."})


class TicketOperationSchema(Schema):
    """Operation attributes of a print job (RFC 8011, 4.2.1.1)."""

    job_name = fields.String(required=True, data_key="job-name")
    document_format = fields.String(required=True, data_key="document-format")
    ipp_attribute_fidelity = fields.Boolean(required=True, data_key="ipp-attribute-fidelity")


class TicketJobSchema(Schema):
    """Job template attributes of a print job (RFC 8011, 5.2; PWG 5100.13 and 5100.16)."""

    media = fields.String(required=True, metadata={"description": "A PWG 5101.1 name."})
    sides = fields.String(required=True)
    print_scaling = fields.String(required=True, data_key="print-scaling")
    print_color_mode = fields.String(required=True, data_key="print-color-mode")


class TicketLinksSchema(Schema):
    """Addresses that belong to a job ticket."""

    self = fields.String(required=True)
    print_run = fields.String(required=True)
    ipptool = fields.String(required=True)


class TicketSchema(Schema):
    """How a printer must be set for a print run."""

    sheet_format = fields.String(required=True)
    pages = fields.Integer(required=True, metadata={"description": "With separators and covers."})
    operation_attributes = fields.Nested(TicketOperationSchema, required=True)
    job_attributes = fields.Nested(TicketJobSchema, required=True)
    links = fields.Nested(TicketLinksSchema, required=True)


class BatchLinksSchema(Schema):
    """Addresses that belong to a batch."""

    self = fields.String(required=True)
    events = fields.String(required=True)
    archive = fields.String(required=True)
    table = fields.String(required=True)


class BatchSchema(Schema):
    """A batch as it stands: `making` until every pack has ended."""

    id = fields.String(required=True)
    class_id = fields.String(required=True)
    title = fields.String(required=True)
    state = fields.String(
        required=True, validate=validate.OneOf(["making", "ready", "failed", "cancelled"])
    )
    created_at = fields.DateTime(required=True)
    counts = fields.Dict(keys=fields.String(), values=fields.Integer(), required=True)
    progress = fields.Nested(ProgressSchema, required=True)
    print_runs = fields.List(fields.Nested(PrintRunSchema), required=True)
    items = fields.List(fields.Nested(BatchItemSchema), required=True)
    links = fields.Nested(BatchLinksSchema, required=True)


class BatchesSchema(Schema):
    """The batches of a class, the newest first."""

    items = fields.List(fields.Nested(BatchSchema), required=True)
