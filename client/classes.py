"""Classes and their rosters, for a tutor or a course site; the packs for them are `batches`."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from urllib.parse import quote

from client.transport import Call, Transport
from client.values import JsonObject, describing, unreadable


class Classes:
    """The classes of whoever's key is used."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def every(self) -> list[JsonObject]:
        """Every class, as the contract writes it."""
        return self._items(Call(method="GET", path="/v1/classes"))

    def create(self, wish: JsonObject, *, key: str | None = None) -> JsonObject:
        """Make a class.

        Args:
            wish: `name`, and what may be left out: `settings`, `closes_at`, `joining_open`.
            key: Idempotency key; made here when left out.

        Raises:
            RequestRefused, SpecRefused: With what is wrong, and where.
        """
        key = key or secrets.token_urlsafe(24)
        call = Call(method="POST", path="/v1/classes", json=wish, key=key)
        return _document(self._transport.json(call))

    def students(self, class_id: str) -> Sequence[JsonObject]:
        """The roster in its order."""
        return self._items(Call(method="GET", path=_roster(class_id)))

    def add_students(
        self, class_id: str, table: bytes, *, key: str | None = None
    ) -> tuple[Sequence[JsonObject], Sequence[str]]:
        """Put names on the roster from a list or a table, as a spreadsheet saves it.

        Args:
            class_id: The class.
            table: The file's bytes; the service finds out its encoding and which column
                holds the names.
            key: Idempotency key; made here when left out.

        Returns:
            Who was added, and which names were there already.

        Raises:
            PapersRefused: It cannot be read; says the line.
        """
        call = Call(
            method="POST",
            path=_roster(class_id),
            table=table,
            key=key or secrets.token_urlsafe(24),
        )
        answer = _document(self._transport.json(call))
        return _items_of(answer), [str(name) for name in answer.get("known") or ()]

    def _items(self, call: Call) -> list[JsonObject]:
        return _items_of(_document(self._transport.json(call)))


def _document(answer: object) -> JsonObject:
    if not isinstance(answer, dict):
        raise unreadable("class", TypeError(type(answer).__name__))
    return answer


def _items_of(answer: JsonObject) -> list[JsonObject]:
    with describing("list"):
        return [dict(item) for item in answer["items"]]


def _roster(class_id: str) -> str:
    return f"/v1/classes/{quote(class_id, safe='')}/students"
