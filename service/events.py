"""Server-Sent Events: a pack's progress without asking again and again.

A stream holds a thread of the server, so there are few of them and each ends after about
a minute; the browser comes again by itself with `Last-Event-ID`. Plain polling of the pack
always works too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from flask import Response, request

from service.desk import Desk, desk, owner_id
from service.documents import pack_document, to_json
from worker.errors import NotFound, RicalcoError
from worker.ledger import PackRow

LONGEST_S = 55.0
LOOK_EVERY_S = 0.2
HEARTBEAT_EVERY_S = 10.0
RETRY_MS = 2000


def event_id(row: PackRow) -> str:
    """Tells one stage of a pack from another."""
    stopping = "stopping" if row.cancel_requested and not row.ended else row.state
    return f"{row.attempt}-{row.done}-{row.step or 'none'}-{stopping}"


def stream(pack_id: str, last_id: str | None) -> Response:
    """Follow a pack.

    Raises:
        NotFound: The caller has no such pack.
        Busy: Too many streams are open.
    """
    at = desk()
    row = at.ledger.pack(pack_id, owner_id())
    if row.ended and last_id == event_id(row):
        # This is how a browser is told not to come again (HTML, 9.2: status 204).
        return Response(status=204)
    at.streams.enter()
    # Everything of the request is read here: the generator runs after it is over.
    gone = request.environ.get("waitress.client_disconnected", _never)
    messages = _messages(at, _Asked(pack_id, owner_id(), last_id, gone))
    response = Response(
        (part if isinstance(part, str) else _message(part) for part in messages),
        content_type="text/event-stream",
    )
    response.call_on_close(at.streams.leave)
    # A proxy that collects an answer before it passes it on would hold the news back.
    response.headers["X-Accel-Buffering"] = "no"
    return response


def _message(row: PackRow) -> str:
    return f"id: {event_id(row)}\ndata: {to_json(pack_document(row))}\n\n"


@dataclass(frozen=True)
class _Asked:
    """What was asked for, and whether anybody still listens."""

    pack_id: str
    owner_id: str
    last_id: str | None
    gone: Callable[[], bool]


def _never() -> bool:
    """Other servers do not tell; the next heartbeat finds out there."""
    return False


def _messages(at: Desk, asked: _Asked) -> Iterator[str | PackRow]:
    """Rows that tell something new, and comments that keep the line open."""
    last_id = asked.last_id
    yield f"retry: {RETRY_MS}\n\n"
    until = time.monotonic() + LONGEST_S
    spoke = time.monotonic()
    while time.monotonic() < until and not (at.closing.is_set() or asked.gone()):
        try:
            row = at.ledger.pack(asked.pack_id, asked.owner_id)
        except NotFound:
            yield "event: gone\ndata: {}\n\n"
            return
        except RicalcoError:
            # Too late for a problem: whoever comes again is told one.
            return
        if event_id(row) != last_id:
            last_id, spoke = event_id(row), time.monotonic()
            yield row
        elif time.monotonic() - spoke > HEARTBEAT_EVERY_S:
            spoke = time.monotonic()
            yield ": still here\n\n"
        if row.ended:
            return
        at.closing.wait(LOOK_EVERY_S)
