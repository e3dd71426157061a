"""Checks that all text in a request is valid Unicode, so that no view has to.

JSON can contain half of a surrogate pair (RFC 8259, 8.2) and the character NUL, and an address
can contain bytes that are not UTF-8. Half a surrogate pair cannot be encoded, so it fails
wherever it is hashed, stored or printed, and PostgreSQL refuses NUL. `service.http.requests.bodies`
checks bodies; addresses are checked before any view is called. Bytes are decoded strictly
where they are read: tables by `classes.spreadsheet`. Headers are read as Latin-1, in which
every byte is a character.
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
    """Whether this has neither half of a surrogate pair nor NUL in it."""
    return _NO_TEXT.search(found) is None


def check_json(found: Any) -> None:
    """Check all strings in a JSON value, names of members included.

    Its depth must be limited before.

    Raises:
        RequestInvalid: A string is not valid text; names the field.
    """
    for path, text in _texts(found, ()):
        if not is_text(text):
            raise _invalid(".".join(path))


def check_query(query: bytes) -> None:
    """Check that the query of an address is valid text once it is unquoted.

    Raises:
        RequestInvalid: It is not; names the field where the name is valid.
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
    """Check the address of each request before its view is called."""

    @app.before_request
    def check() -> None:
        check_query(request.query_string)


def _texts(found: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """All strings in `found`, each with its path."""
    if isinstance(found, str):
        yield path, found
    elif isinstance(found, list):
        for number, below in enumerate(found):
            yield from _texts(below, (*path, str(number)))
    elif isinstance(found, dict):
        for name, below in found.items():
            # A name that is not valid text cannot be shown in an error; its parent's path can.
            yield path, name
            yield from _texts(below, (*path, name))


def _invalid(field: str) -> RequestInvalid:
    detail = f"{field}: {_SENTENCE}" if field else _SENTENCE
    return RequestInvalid(detail, fields={field: [_SENTENCE]}, field=field or None)
