"""Documents that are asked for more than once: lists page by page, and what is waited for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode, urljoin, urlsplit

import requests

from ..errors import AnswerUnreadable
from ..values import JsonObject, items_of
from .transport import Call, Transport


def each(transport: Transport, path: str, *, page_size: int | None = None) -> Iterator[JsonObject]:
    """The items of a list, one after another; further pages are fetched when their turn comes.

    Args:
        transport: Sends the calls.
        path: The list's path, without a query.
        page_size: How many items to ask for at a time; None: as many as the service sends.
    """
    limit = "" if page_size is None else f"?{urlencode({'limit': page_size})}"
    following: str | None = path + limit
    while following is not None:
        answer, document = transport.answer(Call(method="GET", path=following))
        yield from items_of(document)
        following = _next(answer, following)


def _next(answer: requests.Response, path: str) -> str | None:
    """The path of the next page (RFC 8288); None on the last.

    Raises:
        AnswerUnreadable: It is at another service, which would be given the key.
    """
    target = answer.links.get("next", {}).get("url")
    if target is None:
        return None
    parts = urlsplit(urljoin(path, target))
    if parts.netloc:
        message = f"The next page of {path} is at {parts.netloc}: is this a Ricalco service?"
        raise AnswerUnreadable(message, status=answer.status_code)
    return f"{parts.path}?{parts.query}"


class Repeated:
    """A document that is asked for until it has changed enough.

    An unchanged one is answered without its body, since its entity tag is sent along
    (RFC 9110, 13.1.2).
    """

    def __init__(self, transport: Transport, path: str) -> None:
        self._transport = transport
        self._path = path
        self._tag: str | None = None
        self._document: Any = None

    def now(self) -> Any:
        """The document as it is now."""
        headers = {} if self._tag is None else {"If-None-Match": self._tag}
        call = Call(method="GET", path=self._path, headers=headers)
        response, document = self._transport.answer(call)
        if response.status_code != requests.codes.not_modified:
            self._document, self._tag = document, response.headers.get("ETag")
        return self._document
