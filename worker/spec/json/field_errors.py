"""Validation errors of a document, by dotted field paths.

A page that shows a message beside a field needs the field's name and one sentence; the
nested dictionaries that marshmallow hands out are neither, so they are flattened here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from worker.errors import SpecInvalid

#: Where marshmallow puts what is wrong with a whole object.
_WHOLE = "_schema"


def _walk(messages: Any, path: tuple[str, ...]) -> Iterator[tuple[str, list[str]]]:
    if isinstance(messages, Mapping):
        for key, below in messages.items():
            yield from _walk(below, path if key == _WHOLE else (*path, str(key)))
    elif isinstance(messages, list):
        yield ".".join(path), [str(message) for message in messages]
    else:
        yield ".".join(path), [str(messages)]


def flatten(messages: Any) -> dict[str, list[str]]:
    """Nested marshmallow messages as `{"support.width_mm": ["…"]}`.

    What is wrong with the whole document stands under the empty path.
    """
    fields: dict[str, list[str]] = {}
    for path, sentences in _walk(messages, ()):
        fields.setdefault(path, []).extend(sentences)
    return fields


def spec_invalid(messages: Any, *, below: str = "") -> SpecInvalid:
    """The error for what marshmallow found.

    Args:
        messages: `ValidationError.messages`.
        below: Path that is taken off the fields' names: a spec names its own fields
            (`support.width_mm`) whether it came alone or inside a request.
    """
    prefix = f"{below}."
    fields = {path.removeprefix(prefix): found for path, found in flatten(messages).items()}
    first, sentences = next(iter(fields.items()))
    detail = f"{first}: {sentences[0]}" if first else sentences[0]
    more = len(fields) - 1
    if more:
        detail += f" ({more} more {'field is' if more == 1 else 'fields are'} at fault.)"
    return SpecInvalid(detail, fields=fields, field=first or None)
