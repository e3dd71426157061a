"""Schemas of classes and rosters."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from marshmallow import Schema, ValidationError, fields, validate, validates, validates_schema

from service.access.settled_spec import check_defaults, field_paths
from service.http.schemas import (
    REFERENCE_ID,
    TUTOR_ID,
    StrictInteger,
    StrictSchema,
    name_field,
    student_id_field,
)
from service.packs.schemas import PackSchema
from service.people.schemas import SelfSchema
from worker.errors import SpecError
from worker.spec.json import check_part
from worker.spec.json.fields import Flag

MOST_AT_ONCE = 500
#: Longer than a school year nobody needs to keep other people's photos.
MOST_DAYS = 400


def closing_field(**options: Any) -> fields.AwareDateTime:
    """The closing time of a class, in years that are valid in every time zone."""
    years = validate.Range(datetime(1970, 1, 2, tzinfo=UTC), datetime(2900, 1, 1, tzinfo=UTC))
    return fields.AwareDateTime(validate=years, allow_none=True, **options)


class ClassSettingsSchema(StrictSchema):
    """The settings of a class; a setting that is left out stays as it is."""

    defaults = fields.Dict(
        keys=fields.String(),
        metadata={
            "description": "Part of a spec that students' specs start from.",
            "x-spec-patch": True,
        },
    )
    may_change = fields.List(
        fields.String(),
        allow_none=True,
        validate=validate.Length(max=100),
        metadata={"description": "Spec fields (`support`, `sheet.format`); null: all of them."},
    )
    photos = StrictInteger(allow_none=True, validate=validate.Range(0, 1000))
    packs = StrictInteger(allow_none=True, validate=validate.Range(0, 1000))
    pages = StrictInteger(allow_none=True, validate=validate.Range(0, 100_000))
    keep_days = StrictInteger(validate=validate.Range(1, MOST_DAYS))
    print_names = Flag(
        metadata={"description": "Whether the sheets of a student's pack carry their name."}
    )
    show_names = Flag()
    open_roster = Flag()

    @validates("defaults")
    def can_be_started_from(self, value: dict[str, Any], **_: Any) -> None:
        """Check that a spec can start from the defaults."""
        try:
            check_defaults(value)
        except SpecError as error:
            raise ValidationError(error.detail) from error

    @validates("may_change")
    def are_fields(self, value: list[str] | None, **_: Any) -> None:
        """Check that each is a field of the spec."""
        known = field_paths()
        unknown = [path for path in value or () if path not in known]
        if unknown:
            raise ValidationError(f"A spec has no field {unknown[0]}.")


class ClassChangeSchema(StrictSchema):
    """Changes to a class."""

    name = name_field()
    joining_open = Flag()
    joining_until = closing_field(
        metadata={
            "description": "Opens joining until then, when it closes by itself; without it, or "
            "with null, `joining_open` holds until it is changed."
        }
    )
    closes_at = closing_field()
    settings = fields.Nested(ClassSettingsSchema)
    new_code = Flag(metadata={"description": "True: the old join code opens nothing."})

    @validates("joining_until")
    def is_to_come(self, value: datetime | None, **_: Any) -> None:
        """Check that joining would not be over before it began."""
        if value is not None and value <= datetime.now(UTC):
            raise ValidationError("This time is over: give one that is to come.")

    @validates_schema(skip_on_field_errors=True)
    def open_until(self, data: dict[str, Any], **_: Any) -> None:
        """Check that joining is not closed and opened at once."""
        if data.get("joining_until") is not None and data.get("joining_open") is False:
            raise ValidationError("It opens joining: leave joining_open out.", "joining_until")


class NewClassSchema(StrictSchema):
    """A new class."""

    name = name_field(required=True)
    joining_open = Flag(load_default=False)
    closes_at = closing_field(load_default=None)
    settings = fields.Nested(ClassSettingsSchema, load_default=dict)


class ClassCopySchema(StrictSchema):
    """A class like another, for other people."""

    name = name_field(required=True)
    closes_at = closing_field(load_default=None)


#: What a class's picture says of a spec: how the photo is framed, and for which support.
_FRAMED = ("support", "crop", "rotate_deg", "seams")


class NewPictureSchema(StrictSchema):
    """A photo of the tutor's own, and how it is framed."""

    reference_id = fields.String(
        required=True, validate=validate.Regexp(f"^{REFERENCE_ID}$", error="This is no such id.")
    )
    spec = fields.Dict(
        keys=fields.String(),
        load_default=dict,
        metadata={
            "description": "Part of a spec: `crop`, `rotate_deg`, `seams.protect`, and the "
            "`support` that it was framed for.",
            "x-spec-patch": True,
        },
    )

    @validates("spec")
    def frames(self, value: dict[str, Any], **_: Any) -> None:
        """Check that it says how a photo is framed, and nothing else."""
        other = [name for name in value if name not in _FRAMED]
        other += [f"seams.{name}" for name in value.get("seams") or () if name != "protect"]
        if other:
            raise ValidationError({other[0]: ["A class's picture says only how it is framed."]})
        check_part(value)


class RosterSchema(StrictSchema):
    """Names for the roster: a list, pasted text, or (as text/csv) a table."""

    names = fields.List(name_field(), validate=validate.Length(min=1, max=MOST_AT_ONCE))
    text = fields.String(validate=validate.Length(min=1, max=90_000))
    table = fields.Raw(
        load_only=True,
        metadata={
            "description": "A table with a column of names, or one name a line.",
            "x-bare": True,
        },
    )


class RosterOrderSchema(StrictSchema):
    """The ids of everybody on the roster, in the order that is wanted."""

    order = fields.List(
        student_id_field(required=True),
        required=True,
        validate=validate.Length(min=1, max=MOST_AT_ONCE),
    )


class StudentChangeSchema(StrictSchema):
    """Changes to a student of the roster."""

    name = name_field()
    position = StrictInteger(validate=validate.Range(0, 10_000))
    withdrawn = Flag(metadata={"description": "True: their keys open nothing."})


class PackNumberSchema(StrictSchema):
    """The number on a sheet."""

    number = fields.String(
        required=True,
        validate=validate.Length(min=1, max=40),
        metadata={"description": "The number on a sheet, such as 7K3F-Q2ZD."},
    )


class PackOwnerSchema(Schema):
    """A student by id and name."""

    id = fields.String(required=True)
    name = fields.String(required=True)


class ClassPackSchema(Schema):
    """A pack of a class, and whose it is."""

    student = fields.Nested(
        PackOwnerSchema,
        allow_none=True,
        required=True,
        metadata={"description": "null: a tutor's own copy."},
    )
    pack = fields.Nested(PackSchema, required=True)


class ClassPacksSchema(Schema):
    """Packs with one number, the newest first."""

    items = fields.List(fields.Nested(ClassPackSchema), required=True)


class SettledSchema(Schema):
    """The settings of a class."""

    defaults = fields.Dict(
        required=True,
        metadata={"description": "What students' specs start from.", "x-spec-patch": True},
    )
    may_change = fields.List(fields.String(), required=True, allow_none=True)
    photos = fields.Integer(required=True, allow_none=True)
    packs = fields.Integer(required=True, allow_none=True)
    pages = fields.Integer(required=True, allow_none=True)
    keep_days = fields.Integer(required=True)
    print_names = fields.Boolean(required=True)
    show_names = fields.Boolean(required=True)
    open_roster = fields.Boolean(required=True)


class ClassPictureSchema(Schema):
    """The photo that students find as the class's picture, as its tutor has framed it."""

    reference_id = fields.String(required=True)
    width_px = fields.Integer(required=True)
    height_px = fields.Integer(required=True)
    spec = fields.Dict(
        required=True,
        metadata={"description": "How it is framed, as part of a spec.", "x-spec-patch": True},
    )
    preview = fields.String(required=True)


class ClassSchema(Schema):
    """A class; only its tutor gets its code and its links."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    closes_at = fields.DateTime(allow_none=True, required=True)
    closed = fields.Boolean(required=True)
    settings = fields.Nested(SettledSchema, required=True)
    picture = fields.Nested(ClassPictureSchema, allow_none=True, required=True)
    created_at = fields.DateTime(required=True)
    join_code = fields.String()
    joining_open = fields.Boolean(metadata={"description": "Whether it is open now."})
    joining_until = fields.DateTime(
        allow_none=True, metadata={"description": "When joining closes by itself."}
    )
    join_url = fields.String()
    links = fields.Dict(keys=fields.String(), values=fields.String(), required=True)


class ClassesSchema(Schema):
    """A tutor's classes."""

    items = fields.List(fields.Nested(ClassSchema), required=True)


def external_id_field() -> fields.String:
    """The id of a person that whoever asks has given them."""
    says = "The id by which you have put this person here; each site and tutor sees their own."
    return fields.String(metadata={"description": says})


class ExternalStudentSchema(StrictSchema):
    """A student whom another system knows by an id of its own."""

    name = name_field(required=True)


class ExternalTutorSchema(StrictSchema):
    """A tutor whom another system knows by an id of its own."""

    name = name_field()
    tutor_id = fields.String(
        validate=validate.Regexp(f"^{TUTOR_ID}$", error="This is no id of a tutor."),
        metadata={
            "description": "A tutor who is here already (`GET /v1/me` tells them their id). Only "
            "the class's own tutor may give it, and it takes the place of `name`."
        },
    )

    @validates_schema
    def names_one(self, data: dict[str, Any], **_: Any) -> None:
        """Check that a name is given, or an id."""
        if ("name" in data) == ("tutor_id" in data):
            raise ValidationError("Give either a name or a tutor_id.", "name")


class ClassTutorSchema(Schema):
    """A tutor of a class."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    owns = fields.Boolean(
        required=True,
        metadata={"description": "The class is theirs: they alone delete it and add tutors."},
    )
    external_id = external_id_field()
    links = fields.Nested(SelfSchema, required=True)


class ClassTutorsSchema(Schema):
    """The tutors of a class, its own first."""

    items = fields.List(fields.Nested(ClassTutorSchema), required=True)


class StudentSchema(Schema):
    """A student of a roster."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    position = fields.Integer(required=True)
    joined = fields.Boolean(required=True)
    withdrawn = fields.Boolean(required=True)
    external_id = external_id_field()
    links = fields.Nested(SelfSchema, required=True)


class StudentsSchema(Schema):
    """A roster, or the students added to one."""

    items = fields.List(fields.Nested(StudentSchema), required=True)
    known = fields.List(fields.String(), metadata={"description": "Names that were there."})
    links = fields.Nested(SelfSchema, required=True)
