"""Server-Sent Events: a pack's progress without asking again and again.

A message has state and progress, some hundred bytes; the last one has the whole pack. With the
plan in each message, a stream for 110 sheets took 1.7 MB; so it takes 0.15 MB. A stream holds a
thread of the server, so their number is limited, in all and for each person, and each ends
after about a minute; the browser reconnects by itself with `Last-Event-ID`. Polling the pack
always works too.
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
#: Seconds until a stream notices that its client has gone, or that the service stops.
WAIT_S = 0.5
HEARTBEAT_EVERY_S = 10.0
RETRY_MS = 2000
_GONE = "event: gone\ndata: {}\n\n"


def event_id(progress: PackProgress) -> str:
    """An id that differs whenever the pack's progress does."""
    stopping = "stopping" if progress.cancel_requested and not progress.ended else progress.state
    return f"{progress.attempt}-{progress.done}-{progress.step or 'none'}-{stopping}"


def stream(pack_id: str, last_id: str | None) -> Response:
    """Follow a pack.

    Raises:
        NotFound: The caller has no such pack.
        Busy: Too many streams are open, or too many of the caller's.
    """
    context, person_id = get_context(), person().id
    progress = context.ledger.progress({owner_id(): [pack_id]}).get((owner_id(), pack_id))
    if progress is None:
        raise NotFound("There is no such pack.")
    if progress.ended and last_id == event_id(progress):
        # Status 204 has a browser not reconnect (HTML, 9.2).
        return Response(status=204)
    context.stream_limit.acquire(person_id)
    follower = context.progress_watcher.follow(progress, owner_id())
    # The request is read here: the generator runs after its context has ended.
    gone = request.environ.get("waitress.client_disconnected", _never)
    wanted = _StreamRequest(pack_id, owner_id(), last_id, gone, follower)
    response = Response(_messages(context, wanted, progress), content_type="text/event-stream")
    response.call_on_close(follower.leave)
    response.call_on_close(lambda: context.stream_limit.release(person_id))
    # A proxy that buffers responses would hold the messages back.
    response.headers["X-Accel-Buffering"] = "no"
    return response


@dataclass(frozen=True)
class _StreamRequest:
    """A request for a stream, and whether its client has gone."""

    pack_id: str
    owner_id: str
    last_id: str | None
    gone: Callable[[], bool]
    follower: Follower


def _never() -> bool:
    """For servers that do not say so: there the next heartbeat fails."""
    return False


def _messages(
    context: ServiceContext, wanted: _StreamRequest, progress: PackProgress
) -> Iterator[str]:
    """A message for each change, and comments that keep the connection open."""
    last_id = wanted.last_id
    yield f"retry: {RETRY_MS}\n\n"
    until = time.monotonic() + LONGEST_S
    last_sent = time.monotonic()
    try:
        while time.monotonic() < until and not (context.closing.is_set() or wanted.gone()):
            if event_id(progress) != last_id:
                last_id, last_sent = event_id(progress), time.monotonic()
                data = to_json(_message_data(context, wanted, progress))
                yield f"id: {last_id}\ndata: {data}\n\n"
            elif time.monotonic() - last_sent > HEARTBEAT_EVERY_S:
                last_sent = time.monotonic()
                yield ": still here\n\n"
            if progress.ended:
                return
            progress = wanted.follower.wait(progress, WAIT_S)
    except NotFound:
        yield _GONE
    except RicalcoError:
        # Too late for a problem document: the next request gets one.
        return


def _message_data(
    context: ServiceContext, wanted: _StreamRequest, progress: PackProgress
) -> dict[str, Any]:
    """The data of a message: state and progress, and at the end the whole pack."""
    if progress.ended:
        return pack_document(context.ledger.pack(wanted.pack_id, wanted.owner_id))
    return progress_document(progress)
