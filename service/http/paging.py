"""Lists in pages: `limit` and `cursor` in the query, the next page in `Link` (RFC 8288).

A cursor says after which row the next page begins. It is opaque to clients, and no secret: the
statement that reads a page checks the owner of every row, whatever the cursor says.
"""

from __future__ import annotations

import base64
import binascii
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar
from urllib.parse import urlencode

from flask import Response, request
from marshmallow import fields

from service.http.answers.json_responses import json_response
from service.http.resources import request_invalid
from service.http.schemas import StrictSchema
from worker.spec.json.fields import between
from worker.store.ledger import Page, Place

MOST, USUAL = 500, 100
_Row = TypeVar("_Row")


class ListQuerySchema(StrictSchema):
    """Which part of a list is asked for."""

    limit = fields.Integer(
        load_default=None,
        validate=between(1, MOST),
        metadata={"description": "How many rows at most; if not said 100, or the whole roster."},
    )
    cursor = fields.String(
        load_default=None,
        metadata={"description": "Where the page begins, as the `Link` of the one before says."},
    )


@dataclass(frozen=True, kw_only=True)
class PagedList(Generic[_Row]):
    """A list that is answered in pages.

    Attributes:
        name: Its name in cursors, so that those of other lists are refused.
        place: The place of a row in it.
        usual: How many rows a page has where the query does not say.
    """

    name: str
    place: Callable[[_Row], Place]
    usual: int = USUAL

    def page(self, query: dict[str, Any]) -> Page:
        """The page that a query asks for.

        Raises:
            RequestInvalid: Its cursor is none of this list's.
        """
        cursor = query["cursor"]
        after = None if cursor is None else self._read(cursor)
        return Page(limit=query["limit"] or self.usual, after=after)

    def respond_items(
        self, rows: Sequence[_Row], page: Page, item: Callable[[_Row], dict[str, Any]], **more: Any
    ) -> Response:
        """A page of the list as a response whose body is `items` and `more`.

        Args:
            rows: The page's rows, and one more where others follow.
            page: The page.
            item: Makes the document of a row.
            more: What the body says besides.
        """
        return self.respond(rows, page, lambda shown: {"items": [*map(item, shown)], **more})

    def respond(
        self,
        rows: Sequence[_Row],
        page: Page,
        document: Callable[[Sequence[_Row]], dict[str, Any]],
    ) -> Response:
        """A page of the list as a response.

        Args:
            rows: The page's rows, and one more where others follow.
            page: The page.
            document: Makes the body of the rows to show.
        """
        shown = rows[: page.limit]
        response = json_response(document(shown))
        if len(rows) > len(shown):
            query = {
                **request.args.to_dict(),
                "limit": page.limit,
                "cursor": self._write(shown[-1]),
            }
            # Relative to the address that was asked for (RFC 8288, 3.1).
            response.headers["Link"] = f'<{request.path}?{urlencode(query)}>; rel="next"'
        return response

    def _write(self, row: _Row) -> str:
        place = json.dumps([self.name, *self.place(row)], separators=(",", ":"))
        return base64.urlsafe_b64encode(place.encode()).decode().rstrip("=")

    def _read(self, cursor: str) -> Place:
        try:
            padded = cursor.encode("ascii") + b"=" * (-len(cursor) % 4)
            name, value, id_ = json.loads(base64.b64decode(padded, b"-_", validate=True))
        except (ValueError, TypeError, binascii.Error, RecursionError):
            name, value, id_ = None, None, None
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if name != self.name or not number or not math.isfinite(value) or not isinstance(id_, str):
            sentence = "This is no cursor of this list: take the address in Link as it is."
            raise request_invalid({"cursor": [sentence]})
        return float(value), id_
