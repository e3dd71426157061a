"""The plan as JSON: what a page shows while a finger moves, and what the ledger keeps.

Numbers are written as they are, not rounded, so that a plan read back from the ledger is
the plan that was made and gives the same bytes: Python writes the shortest digits that name
a float and no other, and both databases keep all of them. What was promised and counted
when a pack was asked for is thus what is drawn, whatever the search has learnt since.
"""

from __future__ import annotations

from typing import Any

from marshmallow import (
    ValidationError,
    fields,
    post_dump,
    post_load,
    pre_dump,
    validate,
    validates_schema,
)

from worker.errors import PlanNewer, PlanOutdated
from worker.spec.json.fields import Flag, Number, Record, TupleOf
from worker.spec.plan import (
    Change,
    CheckLength,
    FaceAreas,
    FaceWithHead,
    Framing,
    Pass,
    Piece,
    Plan,
    PlanGrid,
    PlanWarning,
    Rect,
    Resolution,
    Seam,
    SheetToTest,
    Size,
    Suggestion,
    TapeSpot,
    TrimStack,
)
from worker.spec.sheet_labels import sheet_label
from worker.spec.spec import Area

#: Raised with every change of what a stored spec or plan can say. A version draws its own plans and
#: those of the version before; what a newer one planned it leaves to that.
PLAN_VERSION = 1
_HIDES = (
    "Millimetres of line to trace, in the chosen style, that tape would cover; null where "
    "nothing is printed to trace."
)


def _point() -> TupleOf:
    return TupleOf(Number(), required=True, validate=validate.Length(equal=2))


def _words() -> TupleOf:
    return TupleOf(fields.String(), required=True)


class SizeSchema(Record):
    """Width and height."""

    makes = Size
    width_mm = Number(required=True)
    height_mm = Number(required=True)


class RectSchema(Record):
    """A rectangle in millimetres from the top left."""

    makes = Rect
    left = Number(required=True)
    top = Number(required=True)
    width = Number(required=True)
    height = Number(required=True)


class ResolvedCropSchema(Record):
    """The crop in shares of the reference, before it is turned about its own centre."""

    makes = Area
    left = Number(required=True)
    top = Number(required=True)
    width = Number(required=True)
    height = Number(required=True)


class PlanAreaSchema(ResolvedCropSchema):
    """A rectangle in shares of what it lies on."""


class FaceWithHeadSchema(Record):
    """Where a face is and its whole head, in shares of the upright reference."""

    makes = FaceWithHead
    face = fields.Nested(PlanAreaSchema, required=True)
    head = fields.Nested(PlanAreaSchema, required=True)


class FramingSchema(Record):
    """What the crop does with heads; faces are looked for in every photo, nobody is recognised."""

    makes = Framing
    faces = TupleOf(
        fields.Nested(FaceWithHeadSchema),
        required=True,
        metadata={"description": "From large to small. A stored pack keeps none."},
    )
    whole = fields.Integer(
        strict=True,
        required=True,
        metadata={"description": "How many of the heads lie in the crop whole."},
    )
    moved = Flag(
        required=True,
        metadata={"description": "Whether the crop was moved off the centre to keep heads whole."},
    )


class NeighboursSchema(Record):
    """Labels beside each edge of the upright piece; none at the picture's edge."""

    top = TupleOf(fields.String())
    right = TupleOf(fields.String())
    bottom = TupleOf(fields.String())
    left = TupleOf(fields.String())


class PieceSchema(Record):
    """One sheet's part of the enlargement."""

    makes = Piece
    label = fields.String(
        required=True,
        metadata={"description": "Row and place from the left, such as `2·3`; in addresses `2-3`."},
    )
    page = fields.Integer(strict=True, required=True)
    row = fields.Integer(strict=True, required=True)
    column = fields.Integer(strict=True, required=True)
    picture_rect_mm = fields.Nested(RectSchema, required=True)
    lap_right_mm = Number(required=True)
    lap_bottom_mm = Number(required=True)
    sheet_rect_mm = fields.Nested(RectSchema, required=True)
    turned_deg = fields.Integer(strict=True, required=True, validate=validate.OneOf([0, 90]))
    neighbours = fields.Nested(NeighboursSchema, required=True)

    @validates_schema(skip_on_field_errors=True)
    def named_by_place(self, data: dict[str, Any], **_: Any) -> None:
        """A label says where the piece is; drawings and addresses rely on it."""
        if data["label"] != sheet_label(data["row"], data["column"]):
            raise ValidationError("The label is not that of this row and column.", "label")


class SeamSchema(Record):
    """The line where two pieces meet."""

    makes = Seam
    between = TupleOf(fields.String(), required=True, validate=validate.Length(equal=2))
    from_mm = _point()
    to_mm = _point()
    line_mm = Number(required=True, allow_none=True, metadata={"description": _HIDES})
    register_marks_mm = TupleOf(
        TupleOf(Number(), validate=validate.Length(equal=2)),
        required=True,
        metadata={"description": "The middles of the register marks across it."},
    )


class TapeSpotSchema(Record):
    """Where a small piece of tape goes."""

    makes = TapeSpot
    rect_mm = fields.Nested(RectSchema, required=True)
    joins = _words()
    at_junction = Flag(required=True)
    line_mm = Number(required=True, allow_none=True, metadata={"description": _HIDES})


class EdgesSchema(Record):
    """A length for each edge of the page; the edge that is left as a flap has none."""

    top = Number()
    right = Number()
    bottom = Number()
    left = Number()


class TrimStackSchema(Record):
    """Sheets that can be cut together."""

    makes = TrimStack
    labels = _words()
    margin_mm = fields.Nested(EdgesSchema, required=True)


class CheckLengthSchema(Record):
    """A length to measure on the joined enlargement, or on the sheet that is printed first."""

    makes = CheckLength
    name = fields.String(required=True)
    scope = fields.String(required=True, validate=validate.OneOf(["joined", "sheet"]))
    start = fields.String(required=True, data_key="from")
    end = fields.String(required=True, data_key="to")
    length_mm = Number(required=True)
    tolerance_mm = Number(required=True)
    seams = fields.Integer(strict=True, required=True)


class SheetToTestSchema(Record):
    """The sheet that is printed first and measured; `tells`: whether a rule can judge it."""

    makes = SheetToTest
    label = fields.String(required=True)
    page = fields.Integer(strict=True, required=True)
    tells = Flag(required=True)


class PassSchema(Record):
    """What is transferred at one placing of the transfer paper."""

    makes = Pass
    number = fields.Integer(strict=True, required=True)
    labels = _words()


class ResolutionSchema(Record):
    """What the photo can give at this size."""

    makes = Resolution
    reference_ppi = Number(required=True)
    resolved_ppi = Number(required=True)
    printed_ppi = Number(required=True)
    finest_line_mm = Number(required=True)
    advice = fields.String(required=True)


class InkSchema(Record):
    """Mean share of the picture that ink covers."""

    mean_coverage = Number(required=True)


class PlanGridSchema(Record):
    """The grid that was asked for, or null; and what would divide the picture evenly."""

    makes = PlanGrid
    square_mm = Number(required=True, allow_none=True)
    columns = fields.Integer(strict=True, required=True, allow_none=True)
    rows = fields.Integer(strict=True, required=True, allow_none=True)
    enlargement = Number(required=True)
    suggested_mm = TupleOf(Number(), required=True)


class SeamLineSchema(Record):
    """Line that tape along all seams hides: as chosen, and under an even split."""

    chosen = Number(required=True)
    even = Number(required=True)


class WarningSchema(Record):
    """Something to know before printing, and what to do."""

    makes = PlanWarning
    code = fields.String(required=True)
    detail = fields.String(required=True)


class ChangeSchema(Record):
    """Fields of the spec with other values; those that stay are left out."""

    makes = Change
    margin_mm = Number(metadata={"description": "All four margins of the sheet."})
    width_mm = Number(metadata={"description": "The support's, always with its height."})
    height_mm = Number()
    format = fields.String()
    arrangement = fields.String(validate=validate.OneOf(["aligned", "staggered"]))
    across_correction = Number()
    down_correction = Number()
    protect = TupleOf(
        fields.Nested(PlanAreaSchema),
        metadata={
            "description": "Areas to add to `seams.protect`, in shares of the unmirrored picture."
        },
    )

    @post_dump
    def leave_out(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Only what changes is written."""
        return {name: value for name, value in data.items() if value is not None}


class FaceAreasSchema(Record):
    """A face and each of its eyes, in shares of the unmirrored picture."""

    makes = FaceAreas
    face = fields.Nested(PlanAreaSchema, required=True)
    eyes = TupleOf(fields.Nested(PlanAreaSchema), required=True)


class SuggestionSchema(Record):
    """Something to take or leave: what to change, and how many sheets it takes then."""

    makes = Suggestion
    code = fields.String(required=True, validate=validate.OneOf(["fewer-sheets", "protect-face"]))
    change = fields.Nested(ChangeSchema, required=True)
    sheet_count = fields.Integer(
        strict=True,
        required=True,
        allow_none=True,
        metadata={"description": "Null where counting takes longer than a plan may."},
    )
    detail = fields.String(required=True)
    faces = TupleOf(
        fields.Nested(FaceAreasSchema),
        load_default=(),
        metadata={"description": "The faces that are not protected yet, from large to small."},
    )

    @post_dump
    def leave_out(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Only an offer for faces names any."""
        return data if data["faces"] else {key: data[key] for key in data if key != "faces"}


class PlanSchema(Record):
    """How a picture becomes sheets."""

    version = fields.Integer(
        strict=True,
        required=True,
        metadata={"description": "Of what plans say; each Ricalco draws the versions it knows."},
    )
    picture = fields.Nested(SizeSchema, required=True)
    sheet = fields.Nested(SizeSchema, required=True)
    crop = fields.Nested(ResolvedCropSchema, required=True)
    rotate_deg = Number(required=True)
    framing = fields.Nested(
        FramingSchema, load_default=lambda: Framing(faces=(), whole=0, moved=False)
    )
    sheet_count = fields.Integer(strict=True, required=True)
    rows = fields.Integer(strict=True, required=True)
    columns = fields.Integer(strict=True, required=True)
    run_through = fields.String(required=True, validate=validate.OneOf(["both", "across", "down"]))
    protected_mm = TupleOf(fields.Nested(RectSchema), required=True)
    pieces = TupleOf(fields.Nested(PieceSchema), required=True)
    seams = TupleOf(fields.Nested(SeamSchema), required=True)
    tape_spots = TupleOf(fields.Nested(TapeSpotSchema), required=True)
    trim_stacks = TupleOf(fields.Nested(TrimStackSchema), required=True)
    check_lengths = TupleOf(fields.Nested(CheckLengthSchema), required=True)
    sheet_to_test = fields.Nested(SheetToTestSchema, required=True)
    on_wall = Flag(required=True)
    passes = TupleOf(fields.Nested(PassSchema), required=True)
    resolution = fields.Nested(ResolutionSchema, required=True)
    ink = fields.Nested(InkSchema, required=True)
    seam_line_mm = fields.Nested(
        SeamLineSchema, required=True, allow_none=True, metadata={"description": _HIDES}
    )
    warnings = TupleOf(fields.Nested(WarningSchema), required=True)
    suggestions = TupleOf(fields.Nested(SuggestionSchema), required=True)
    grid = fields.Nested(PlanGridSchema, required=True)
    language = fields.String(
        required=True, metadata={"description": "Of what is printed: a tag such as `it`."}
    )

    @validates_schema(skip_on_field_errors=True)
    def pieces_are_counted(self, data: dict[str, Any], **_: Any) -> None:
        """There are as many pieces as sheets were promised, each with a label of its own."""
        labels = {piece.label for piece in data["pieces"]}
        if not len(labels) == len(data["pieces"]) == data["sheet_count"] > 0:
            raise ValidationError("The pieces are not as many as the sheets.", "pieces")

    @pre_dump
    def group(self, plan: Plan, **_: Any) -> dict[str, Any]:
        """Ink and hidden line stand in groups of their own in JSON."""
        line = {"chosen": plan.seam_line_chosen_mm, "even": plan.seam_line_even_mm}
        seam_line = None if None in line.values() else line
        return {
            **vars(plan),
            "version": PLAN_VERSION,
            "ink": {"mean_coverage": plan.mean_coverage},
            "seam_line_mm": seam_line,
        }

    @post_load
    def build(self, data: dict[str, Any], **_: Any) -> Plan:
        """The plan, with the groups taken apart again."""
        del data["version"]
        line = data.pop("seam_line_mm") or {"chosen": None, "even": None}
        return Plan(
            mean_coverage=data.pop("ink")["mean_coverage"],
            seam_line_chosen_mm=line["chosen"],
            seam_line_even_mm=line["even"],
            **data,
        )


_SCHEMA = PlanSchema()
_NEWER = (
    "A newer version of Ricalco planned this pack, and this part of the service is not updated "
    "yet: try again in a minute."
)
_OUTDATED = (
    "Another version of Ricalco planned this pack, and this one cannot draw it as it was "
    "promised: ask for the pack again."
)


def dump_plan(plan: Plan) -> dict[str, Any]:
    """The plan as JSON."""
    return dict(_SCHEMA.dump(plan))


def load_plan(document: Any) -> Plan:
    """The plan that `dump_plan` wrote, equal to it in every digit.

    Args:
        document: What a JSON reader made of it; None where a row has no plan.

    Raises:
        PlanNewer: A newer version wrote it, which will draw it.
        PlanOutdated: It is none that this version can draw: another one wrote it.
    """
    version = document.get("version") if isinstance(document, dict) else None
    if isinstance(version, int) and version > PLAN_VERSION:
        raise PlanNewer(_NEWER)
    try:
        plan = _SCHEMA.load(document)
    except ValidationError as error:
        raise PlanOutdated(_OUTDATED) from error
    assert isinstance(plan, Plan)  # noqa: S101 -- tells mypy what PlanSchema.build returns.
    return plan
