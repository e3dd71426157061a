"""Every text that comes in is whole characters of Unicode: said here once, at the edge.

JSON can spell half of a surrogate pair (RFC 8259, 8.2) and the character NUL, and an address
can hold bytes that are no UTF-8. Half a character cannot be encoded, so it fails wherever it
is hashed, stored or printed, and PostgreSQL refuses NUL; no view should have to think of it.
Bodies are looked at by `service.http.bodies`, addresses before any view is called. What comes as
bytes is decoded strictly where it is read: tables by `classes.spreadsheet`, and headers are read
as Latin-1, in which every byte is a character.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import unquote_to_bytes

from flask import Flask, request

from service.http.errors import RequestInvalid

#: Halves of surrogate pairs (Unicode 3.8, D71 and D72 of chapter 3), and NUL.
_NO_TEXT = re.compile("[\0\ud800-\udfff]")
_SENTENCE = "This text has half of a character, or the character NUL, in it: write it anew."
_NOT_UTF_8 = "The address has a query that is no text in UTF-8."


def is_text(found: str) -> bool:
    """Whether this is whole characters, none of them NUL."""
    return _NO_TEXT.search(found) is None


def check_json(found: Any) -> None:
    """See that all texts in a JSON value, names of members too, are texts.

    Its nesting is bounded before.

    Raises:
        RequestInvalid: One is not; names the field.
    """
    for path, text in _texts(found, ()):
        if not is_text(text):
            raise _invalid(".".join(path))


def check_query(query: bytes) -> None:
    """See that what follows the `?` of an address is text once it is unquoted.

    Raises:
        RequestInvalid: It is not; names the field where that can be read.
    """
    for pair in query.split(b"&"):
        name, _, value = (unquote_to_bytes(part) for part in pair.partition(b"="))
        try:
            field, text = name.decode(), value.decode()
        except UnicodeDecodeError as error:
            raise RequestInvalid(_NOT_UTF_8, fields={"": [_NOT_UTF_8]}) from error
        if not is_text(field + text):
            raise _invalid(field if is_text(field) else "")


def check_addresses(app: Flask) -> None:
    """Look at the address of each request before a view does."""

    @app.before_request
    def look() -> None:
        check_query(request.query_string)


def _texts(found: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """All texts below `found`, each with where it stands."""
    if isinstance(found, str):
        yield path, found
    elif isinstance(found, list):
        for number, below in enumerate(found):
            yield from _texts(below, (*path, str(number)))
    elif isinstance(found, dict):
        for name, below in found.items():
            # A name that is no text cannot be told; what it stands in can.
            yield path, name
            yield from _texts(below, (*path, name))


def _invalid(field: str) -> RequestInvalid:
    detail = f"{field}: {_SENTENCE}" if field else _SENTENCE
    return RequestInvalid(detail, fields={field: [_SENTENCE]}, field=field or None)
