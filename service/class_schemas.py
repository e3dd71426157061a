"""What goes over the wire about people and classes; see `schemas` for photos and packs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from marshmallow import Schema, ValidationError, fields, validate, validates

from service.batch_schemas import SupportSizeSchema
from service.schemas import (
    STUDENT_ID,
    FailureSchema,
    PackLinksSchema,
    ProgressSchema,
    Strict,
)
from worker.classes.settled import check_defaults, field_paths
from worker.contract.fields import Flag, Line
from worker.errors import SpecError
from worker.ledger import PACK_STATES, ROLES

MAX_NAME_LETTERS = 120
MOST_AT_ONCE = 500
#: Longer than a school year nobody needs other people's photos.
MOST_DAYS = 400


class Whole(fields.Integer):
    """A JSON number without a fraction; neither a text nor a flag."""

    def _validated(self, value: Any) -> int:
        # 5.0 is a whole number in JSON; an infinity, which 1e999 is read as, is none.
        whole = value.is_integer() if isinstance(value, float) else isinstance(value, int)
        if not whole or isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return int(value)


def closing_field(**options: Any) -> fields.AwareDateTime:
    """When a class is over, in years that a calendar has in every time zone."""
    years = validate.Range(datetime(1970, 1, 2, tzinfo=UTC), datetime(2900, 1, 1, tzinfo=UTC))
    return fields.AwareDateTime(validate=years, allow_none=True, **options)


def name_field(**options: Any) -> Line:
    """A person's or a class's name, as people write it, on one line."""
    return Line(most=MAX_NAME_LETTERS, written=True, **options)


def student_id_field(**options: Any) -> fields.String:
    """Which student is meant."""
    no_id = validate.Regexp(f"^{STUDENT_ID}$", error="This is no such id.")
    return fields.String(validate=no_id, **options)


class ForStudentSchema(Strict):
    """For whom a tutor sends a photo."""

    student_id = student_id_field(load_default=None)


class TakeInSchema(ForStudentSchema):
    """How a photo is taken in."""

    accept_damaged = fields.Boolean(
        truthy={"true"},
        falsy={"false"},
        load_default=False,
        metadata={"description": "Take what can be read of a damaged photo as it is."},
    )


class NameSchema(Strict):
    """What someone or something is called."""

    name = name_field(required=True)


class SignInSchema(Strict):
    """A key that somebody was given."""

    key = fields.String(required=True, validate=validate.Length(min=1, max=200))


class LabelSchema(Strict):
    """Which device a key is for."""

    label = Line(most=MAX_NAME_LETTERS, load_default="")


class ClassSettingsSchema(Strict):
    """What a tutor settles for a class; what is left out stays as it is."""

    defaults = fields.Dict(
        keys=fields.String(),
        metadata={"description": "Part of a spec that students' specs start from."},
    )
    may_change = fields.List(
        fields.String(),
        allow_none=True,
        validate=validate.Length(max=100),
        metadata={"description": "Spec fields (`support`, `sheet.format`); null: all of them."},
    )
    photos = Whole(allow_none=True, validate=validate.Range(0, 1000))
    packs = Whole(allow_none=True, validate=validate.Range(0, 1000))
    pages = Whole(allow_none=True, validate=validate.Range(0, 100_000))
    keep_days = Whole(validate=validate.Range(1, MOST_DAYS))
    show_names = Flag()
    open_roster = Flag()

    @validates("defaults")
    def can_be_started_from(self, value: dict[str, Any], **_: Any) -> None:
        """Specs can start from these."""
        try:
            check_defaults(value)
        except SpecError as error:
            raise ValidationError(error.detail) from error

    @validates("may_change")
    def are_fields(self, value: list[str] | None, **_: Any) -> None:
        """Each is a field of the spec."""
        known = field_paths()
        unknown = [path for path in value or () if path not in known]
        if unknown:
            raise ValidationError(f"A spec has no field {unknown[0]}.")


class ClassChangeSchema(Strict):
    """What is changed of a class."""

    name = name_field()
    joining_open = Flag()
    closes_at = closing_field()
    settings = fields.Nested(ClassSettingsSchema)
    new_code = Flag(metadata={"description": "True: the old join code opens nothing."})


class NewClassSchema(Strict):
    """A class that is made."""

    name = name_field(required=True)
    joining_open = Flag(load_default=False)
    closes_at = closing_field(load_default=None)
    settings = fields.Nested(ClassSettingsSchema, load_default=dict)


class RosterSchema(Strict):
    """Names for the roster: a list, pasted text, or (as text/csv) a table."""

    names = fields.List(name_field(), validate=validate.Length(min=1, max=MOST_AT_ONCE))
    text = fields.String(validate=validate.Length(min=1, max=90_000))
    table = fields.Raw(
        load_only=True,
        metadata={"description": "Not in JSON: send the bytes alone, as text/csv or text/plain."},
    )


class RosterOrderSchema(Strict):
    """The ids of everybody on the roster, in the order that is wanted."""

    order = fields.List(
        student_id_field(required=True),
        required=True,
        validate=validate.Length(min=1, max=MOST_AT_ONCE),
    )


class StudentChangeSchema(Strict):
    """What is changed of a line of the roster."""

    name = name_field()
    position = Whole(validate=validate.Range(0, 10_000))
    withdrawn = Flag(metadata={"description": "True: their keys open nothing."})


class CodeSchema(Strict):
    """The class code on the board."""

    code = fields.String(required=True, validate=validate.Length(min=1, max=40))


class JoinSchema(CodeSchema):
    """Who joins, by the place that was picked or by the name that was typed."""

    student_id = student_id_field()
    name = name_field()
    label = LabelSchema().fields["label"]


class MarkSchema(Strict):
    """What somebody has done with a pack."""

    printed = Flag()
    joined = Flag()


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


class SettledSchema(Schema):
    """A class's settings as they are."""

    defaults = fields.Dict(required=True)
    may_change = fields.List(fields.String(), required=True, allow_none=True)
    photos = fields.Integer(required=True, allow_none=True)
    packs = fields.Integer(required=True, allow_none=True)
    pages = fields.Integer(required=True, allow_none=True)
    keep_days = fields.Integer(required=True)
    show_names = fields.Boolean(required=True)
    open_roster = fields.Boolean(required=True)


class ClassSchema(Schema):
    """A class; its code and where it is managed are its tutor's to see."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    closes_at = fields.DateTime(allow_none=True, required=True)
    closed = fields.Boolean(required=True)
    settings = fields.Nested(SettledSchema, required=True)
    created_at = fields.DateTime(required=True)
    join_code = fields.String()
    joining_open = fields.Boolean()
    join_url = fields.String()
    links = fields.Dict(keys=fields.String(), values=fields.String(), required=True)


class ClassesSchema(Schema):
    """A tutor's classes."""

    items = fields.List(fields.Nested(ClassSchema), required=True)


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


class StudentSchema(Schema):
    """A line of the roster."""

    id = fields.String(required=True)
    name = fields.String(required=True)
    position = fields.Integer(required=True)
    joined = fields.Boolean(required=True)
    withdrawn = fields.Boolean(required=True)
    links = fields.Nested(SelfSchema, required=True)


class StudentsSchema(Schema):
    """A roster, or what was added to one."""

    items = fields.List(fields.Nested(StudentSchema), required=True)
    known = fields.List(fields.String(), metadata={"description": "Names that were there."})
    links = fields.Nested(SelfSchema, required=True)


class FreeNameSchema(Schema):
    """A place on the roster that nobody has taken."""

    student_id = fields.String(required=True)
    name = fields.String(required=True)


class JoinPageSchema(Schema):
    """What the join page shows; names only where the tutor lets it."""

    class_name = fields.String(required=True)
    open_roster = fields.Boolean(required=True)
    names = fields.List(fields.Nested(FreeNameSchema), allow_none=True, required=True)
    keep_days = fields.Integer(required=True)


class PhotoOnBoardSchema(Schema):
    """A student's newest photo."""

    id = fields.String(required=True)
    width_px = fields.Integer(required=True)
    height_px = fields.Integer(required=True)
    created_at = fields.DateTime(required=True)
    preview = fields.String(required=True)
    compared_with = fields.Nested(
        SupportSizeSchema,
        allow_none=True,
        required=True,
        metadata={"description": "The support that it is meant for; null: none is known yet."},
    )
    finest_line_mm = fields.Float(allow_none=True, required=True)
    too_small = fields.Boolean(
        allow_none=True,
        required=True,
        metadata={"description": "Whether it is for `compared_with`; null: not compared yet."},
    )


class PackOnBoardSchema(Schema):
    """A pack of somebody's, without its plan."""

    id = fields.String(required=True)
    title = fields.String(required=True)
    number = fields.String()
    state = fields.String(required=True, validate=validate.OneOf(PACK_STATES))
    progress = fields.Nested(ProgressSchema, required=True)
    sheets = fields.Integer(required=True)
    created_at = fields.DateTime(required=True)
    printed_at = fields.DateTime(allow_none=True)
    joined_at = fields.DateTime(allow_none=True)
    error = fields.Nested(FailureSchema)
    links = fields.Nested(PackLinksSchema, required=True)


class PacksSchema(Schema):
    """Several packs, the newest first."""

    items = fields.List(fields.Nested(PackOnBoardSchema), required=True)


class StudentOnBoardSchema(StudentSchema):
    """How far a student is."""

    photos = fields.Integer(required=True)
    packs = fields.Integer(required=True)
    asked = fields.Boolean(
        required=True,
        metadata={"description": "Whether they have asked for a pack on their own device."},
    )
    photo = fields.Nested(PhotoOnBoardSchema, allow_none=True, required=True)
    pack = fields.Nested(PackOnBoardSchema, allow_none=True, required=True)


class BoardSchema(Schema):
    """A class at a glance."""

    class_ = fields.Nested(ClassSchema, data_key="class", attribute="class", required=True)
    students = fields.List(fields.Nested(StudentOnBoardSchema), required=True)
