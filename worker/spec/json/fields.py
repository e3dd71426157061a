"""Field kinds that take what they say and nothing that merely looks like it.

marshmallow reads `"12"` as a number and `"yes"` as true. Here a number is a JSON number,
finite, in a range that makes sense; a flag is true or false; a text is a text, of one line
and of whole characters.
"""

from __future__ import annotations

import unicodedata
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, post_load, validate

#: Shares of a picture smaller than this are no area that a person can mean.
MIN_SHARE = 0.001
#: Control characters have no place in a line, and some databases refuse them.
_LINE = r"^[^\x00-\x1f\x7f-\x9f]*$"
#: Without looking ahead, so that those who generate text from the document can.
_WRITTEN = _LINE.replace("*$", r"*[^\s\x00-\x1f\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$")
_ONE_LINE = "Write one line, without control characters."


class Number(fields.Float):
    """A finite JSON number; neither a text nor a flag."""

    def _validated(self, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.make_error("invalid", input=value)
        return super()._validated(value)


class Flag(fields.Boolean):
    """true or false, and no word for it."""

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return value


class Line(fields.String):
    """A text of one line that can be stored and printed.

    Args:
        most: How many letters it may have.
        written: Blank is not enough, as for a name.
    """

    def __init__(self, *, most: int, written: bool = False, **options: Any) -> None:
        rules: list[validate.Validator] = [validate.Length(min=int(written) or None, max=most)]
        if written:
            rules.append(validate.Regexp(_WRITTEN, error="A name has a letter, and one line."))
        else:
            rules.append(validate.Regexp(_LINE, error=_ONE_LINE))
        super().__init__(validate=rules, **options)

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        line = super()._deserialize(value, *args, **kwargs)
        kinds = {unicodedata.category(letter) for letter in line}
        # Half a surrogate pair is valid JSON and no character.
        if "Cs" in kinds:
            raise ValidationError("Half of a character is missing in this text.")
        # Python's `$` lets a last line feed pass, which the pattern as documented does not.
        if "Cc" in kinds:
            raise ValidationError(_ONE_LINE)
        return line


class TupleOf(fields.List[Any]):
    """A list that is read as a tuple, because the plan's values are frozen."""

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        return tuple(super()._deserialize(value, *args, **kwargs))


class Record(Schema):
    """A schema whose loaded value is one of our frozen dataclasses.

    `makes` is that class; unknown fields are refused, since a misspelt field that is
    silently dropped prints a wrong pack.
    """

    class Meta:
        """Unknown fields are refused."""

        unknown = RAISE

    makes: type = dict

    @post_load
    def build(self, data: dict[str, Any], **_: Any) -> Any:
        """The dataclass of the loaded fields."""
        return self.makes(**data)


def between(low: float, high: float, *, why: str = "") -> validate.Range:
    """Both ends allowed; `why` follows the sentence that names them."""
    sentence = f"Give a number from {low:g} to {high:g}.{' ' + why if why else ''}"
    return validate.Range(min=low, max=high, error=sentence)


def choice(*words: str) -> validate.OneOf:
    """One of these words."""
    return validate.OneOf(words, error=f"Give one of: {', '.join(words)}.")


def step_of(steps: tuple[float, ...]) -> validate.OneOf:
    """One of these numbers."""
    named = ", ".join(f"{step:g}" for step in steps)
    return validate.OneOf(steps, error=f"Give one of: {named}.")
