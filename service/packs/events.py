"""Server-Sent Events: a pack's progress without asking again and again.

A message tells state and progress, some hundred bytes; the last one is the whole pack, once.
With the plan in each message, a stream for 110 sheets took 1.7 MB; so it takes 0.15 MB.
A stream holds a thread of the server, so there are few of them, nobody has more than some,
and each ends after about a minute; the browser comes again by itself with `Last-Event-ID`.
Plain polling of the pack always works too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from flask import Response, request

from service.http.json_responses import to_json
from service.packs.documents import pack_document, progress_document
from service.runtime.context import ServiceContext, get_context, owner_id, person
from service.runtime.progress_watch import Follower
from worker.errors import NotFound, RicalcoError
from worker.store.ledger import PackProgress

LONGEST_S = 55.0
#: How soon it is noticed that nobody listens any more, or that the service stops.
WAIT_S = 0.5
HEARTBEAT_EVERY_S = 10.0
RETRY_MS = 2000
_GONE = "event: gone\ndata: {}\n\n"


def event_id(progress: PackProgress) -> str:
    """Tells one stage of a pack from another."""
    stopping = "stopping" if progress.cancel_requested and not progress.ended else progress.state
    return f"{progress.attempt}-{progress.done}-{progress.step or 'none'}-{stopping}"


def stream(pack_id: str, last_id: str | None) -> Response:
    """Follow a pack.

    Raises:
        NotFound: The caller has no such pack.
        Busy: Too many streams are open, or too many of the caller's.
    """
    context, who = get_context(), person().id
    progress = context.ledger.progress({owner_id(): [pack_id]}).get((owner_id(), pack_id))
    if progress is None:
        raise NotFound("There is no such pack.")
    if progress.ended and last_id == event_id(progress):
        # This is how a browser is told not to come again (HTML, 9.2: status 204).
        return Response(status=204)
    context.stream_limit.acquire(who)
    follower = context.progress_watcher.follow(progress, owner_id())
    # Everything of the request is read here: the generator runs after it is over.
    gone = request.environ.get("waitress.client_disconnected", _never)
    asked = _Asked(pack_id, owner_id(), last_id, gone, follower)
    response = Response(_messages(context, asked, progress), content_type="text/event-stream")
    response.call_on_close(follower.leave)
    response.call_on_close(lambda: context.stream_limit.release(who))
    # A proxy that collects an answer before it passes it on would hold the news back.
    response.headers["X-Accel-Buffering"] = "no"
    return response


@dataclass(frozen=True)
class _Asked:
    """What was asked for, and whether anybody still listens."""

    pack_id: str
    owner_id: str
    last_id: str | None
    gone: Callable[[], bool]
    follower: Follower


def _never() -> bool:
    """Other servers do not tell; the next heartbeat finds out there."""
    return False


def _messages(context: ServiceContext, asked: _Asked, progress: PackProgress) -> Iterator[str]:
    """Messages that tell something new, and comments that keep the line open."""
    last_id = asked.last_id
    yield f"retry: {RETRY_MS}\n\n"
    until = time.monotonic() + LONGEST_S
    spoke = time.monotonic()
    try:
        while time.monotonic() < until and not (context.closing.is_set() or asked.gone()):
            if event_id(progress) != last_id:
                last_id, spoke = event_id(progress), time.monotonic()
                yield f"id: {last_id}\ndata: {to_json(_news(context, asked, progress))}\n\n"
            elif time.monotonic() - spoke > HEARTBEAT_EVERY_S:
                spoke = time.monotonic()
                yield ": still here\n\n"
            if progress.ended:
                return
            progress = asked.follower.wait(progress, WAIT_S)
    except NotFound:
        yield _GONE
    except RicalcoError:
        # Too late for a problem: whoever comes again is told one.
        return


def _news(context: ServiceContext, asked: _Asked, progress: PackProgress) -> dict[str, Any]:
    """What a message tells: how far it is, and at the end all of it."""
    if progress.ended:
        return pack_document(context.ledger.pack(asked.pack_id, asked.owner_id))
    return progress_document(progress)
