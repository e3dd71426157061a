"""Schemas and fields that requests and responses of several resources share."""

from __future__ import annotations

from typing import Any

from marshmallow import (
    EXCLUDE,
    RAISE,
    Schema,
    ValidationError,
    fields,
    validate,
)

from service.http.answers.problems import CODES
from worker.spec.json.fields import Line

REFERENCE_ID = r"ref_[A-Za-z0-9_-]{16,60}"


PACK_ID = r"pck_[A-Za-z0-9_-]{16,60}"


STUDENT_ID = r"stu_[A-Za-z0-9_-]{16,60}"


TUTOR_ID = r"tut_[A-Za-z0-9_-]{16,60}"


MAX_TITLE_LETTERS = 200


KEY = r"^[\x21-\x7e]{1,255}$"


class StrictSchema(Schema):
    """A schema that refuses unknown fields."""

    class Meta:
        """Options of marshmallow."""

        unknown = RAISE


class AlreadyJson(fields.Nested):
    """A part that its own schema has dumped before; it is documented, and copied as it is."""

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:  # type: ignore[override]  # The base names it otherwise.
        return value


class KeySchema(Schema):
    """The same key with the same request makes one thing and gives one answer."""

    class Meta:
        """Other headers are ignored."""

        unknown = EXCLUDE

    idempotency_key = fields.String(
        data_key="Idempotency-Key",
        load_default=None,
        validate=validate.Regexp(KEY, error="Give 1 to 255 printable ASCII characters."),
    )


class HealthSchema(Schema):
    """The service answers."""

    status = fields.String(required=True)
    checks = fields.Dict(keys=fields.String(), values=fields.String())
    todo = fields.Dict(keys=fields.String(), values=fields.String())


class ProblemSchema(Schema):
    """Problem details (RFC 9457); `code` is what a program should tell errors by."""

    type = fields.String(required=True)
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    code = fields.String(required=True, validate=validate.OneOf(CODES))
    detail = fields.String(required=True)
    field_at_fault = fields.String(
        data_key="field", metadata={"description": "Dotted path of the field at fault."}
    )
    fields_at_fault = fields.Dict(
        data_key="fields",
        keys=fields.String(),
        values=fields.List(fields.String()),
        metadata={"description": "Every field at fault, with what is wrong."},
    )
    checks = fields.Dict(keys=fields.String(), values=fields.String())
    todo = fields.Dict(
        keys=fields.String(),
        values=fields.String(),
        metadata={"description": "What to do about each check that is not well."},
    )
    readable_share = fields.Float(
        metadata={"description": "About how much of a damaged photo can be read, 0 to 1."}
    )
    request_id = fields.String(metadata={"description": "What to look for in the log."})


#: Of a person's or a class's name.
MAX_NAME_LETTERS = 120


class StrictInteger(fields.Integer):
    """An integer: a JSON number without a fraction, neither a string nor a boolean."""

    def _validated(self, value: Any) -> int:
        # 5.0 is an integer in JSON; an infinity, as which 1e999 is read, is not.
        whole = value.is_integer() if isinstance(value, float) else isinstance(value, int)
        if not whole or isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return int(value)


def unique(values: list[str]) -> None:
    """Check that a list names nothing twice."""
    if len(set(values)) != len(values):
        raise ValidationError("Name each once.")


def name_field(**options: Any) -> Line:
    """A person's or a class's name, as people write it, on one line."""
    return Line(most=MAX_NAME_LETTERS, written=True, **options)


def student_id_field(**options: Any) -> fields.String:
    """The id of a student."""
    no_id = validate.Regexp(f"^{STUDENT_ID}$", error="This is no such id.")
    return fields.String(validate=no_id, **options)


class ForStudentSchema(StrictSchema):
    """The student for whom a tutor sends a photo."""

    student_id = student_id_field(load_default=None)


class SupportSizeSchema(Schema):
    """The size of a support; in a batch it distinguishes several items of one student."""

    width_mm = fields.Float(required=True)
    height_mm = fields.Float(required=True)
