"""Server-Sent Events: how far something is, without asking again and again.

A message has state and progress, some hundred bytes; the last one has the whole document. With
the plan in each message, a stream for 110 sheets took 1.7 MB; so it takes 0.15 MB. A stream
holds a thread of the server, so their number is limited, in all and for each person, and each
ends after about a minute; the browser reconnects by itself with `Last-Event-ID`. When the service
stops each stream tells another pause until then, so that they do not all come back at once. Polling
always works too.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

from flask import Response, request

from service.http.answers.json_responses import to_json
from service.runtime.context import ServiceContext, get_context, person
from service.runtime.progress_watch import Follower, Key, ProgressWatcher
from worker.errors import NotFound, RicalcoError
from worker.store.metrics.families import EVENT_STREAMS

LONGEST_S = 55.0
#: Seconds until a stream notices that its client has gone, or that the service stops.
WAIT_S = 0.5
HEARTBEAT_EVERY_S = 10.0
RETRY_MS = 2000
#: When the service stops: by then another process answers, or this one is started again.
SOONEST_MS = 300
_GONE = "event: gone\ndata: {}\n\n"


class Progress(Protocol):
    """How far something is."""

    @property
    def ended(self) -> bool:
        """Whether it will not change any more."""


_P = TypeVar("_P", bound=Progress)


@dataclass(frozen=True, kw_only=True)
class Followed(Generic[_P]):
    """What a stream follows.

    Attributes:
        watcher: Reads its progress.
        key: The ids of owner and thing.
        event_id: An id that differs whenever the progress does.
        data: The data of a message. It is called after the request has ended.
    """

    watcher: ProgressWatcher[_P]
    key: Key
    event_id: Callable[[_P], str]
    data: Callable[[_P], dict[str, Any]]


def stream(followed: Followed[_P], progress: _P | None) -> Response:
    """Follow something whose progress the caller has just read.

    Raises:
        NotFound: There is no progress: the caller has no such thing.
        Busy: Too many streams are open, or too many of the caller's.
    """
    if progress is None:
        raise NotFound("There is no such thing.")
    last_id = request.headers.get("Last-Event-ID")
    if progress.ended and last_id == followed.event_id(progress):
        # Status 204 has a browser not reconnect (HTML, 9.2).
        return Response(status=204)
    context, person_id = get_context(), person().id
    context.stream_limit.acquire(person_id)
    context.counts.add(EVENT_STREAMS)
    follower = followed.watcher.follow(followed.key, progress)
    # The request is read here: the generator runs after its context has ended.
    gone = request.environ.get("waitress.client_disconnected", _never)
    open_stream = _Stream(followed=followed, follower=follower, last_id=last_id, gone=gone)
    messages = open_stream.messages(context, progress)
    response = Response(messages, content_type="text/event-stream")
    response.call_on_close(follower.leave)
    response.call_on_close(lambda: context.stream_limit.release(person_id))
    response.call_on_close(lambda: context.counts.add(EVENT_STREAMS, by=-1.0))
    # A proxy that buffers responses would hold the messages back.
    response.headers["X-Accel-Buffering"] = "no"
    return response


def _never() -> bool:
    """For servers that do not say so: there the next heartbeat fails."""
    return False


@dataclass(frozen=True, kw_only=True)
class _Stream(Generic[_P]):
    """An open stream, and whether its client has gone."""

    followed: Followed[_P]
    follower: Follower[_P]
    last_id: str | None
    gone: Callable[[], bool]

    def messages(self, context: ServiceContext, progress: _P) -> Iterator[str]:
        """A message for each change, and comments that keep the connection open."""
        event_id, last_id = self.followed.event_id, self.last_id
        yield f"retry: {RETRY_MS}\n\n"
        until = time.monotonic() + LONGEST_S
        last_sent = time.monotonic()
        try:
            while time.monotonic() < until and not (context.closing.is_set() or self.gone()):
                if event_id(progress) != last_id:
                    last_id, last_sent = event_id(progress), time.monotonic()
                    data = to_json(self.followed.data(progress))
                    yield f"id: {last_id}\ndata: {data}\n\n"
                elif time.monotonic() - last_sent > HEARTBEAT_EVERY_S:
                    last_sent = time.monotonic()
                    yield ": still here\n\n"
                if progress.ended:
                    return
                progress = self.follower.wait(progress, WAIT_S)
            if context.closing.is_set():
                yield f"retry: {SOONEST_MS + secrets.randbelow(RETRY_MS)}\n\n"
        except NotFound:
            yield _GONE
        except RicalcoError:
            # Too late for a problem document: the next request gets one.
            return
