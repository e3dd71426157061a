"""A thread pool for waitress in which many requests are open and few run at the same moment.

There are many threads because most of them wait: to take a photo in, for a pack's progress,
for a client to read a response. If all ran at once, each would slow down all others, and a
new request would wait for the slowest of forty. So a request needs a slot to run, and gives
it up while it waits for something else. Free slots go round robin over the places that
requests come from.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from waitress.task import ThreadedTaskDispatcher

#: Python runs one thread at a time, the cores a few; the others wait for disk or ledger.
MAX_RUNNING = 8
#: Most requests take less than a tenth of this.
LONG_S = 1.0
_thread = threading.local()


class Request(Protocol):
    """A connection with a request on it, as waitress hands it to its threads."""

    place: str | None

    def service(self) -> None:
        """Answer it."""

    def cancel(self) -> None:
        """Drop it without an answer."""


class FairQueue:
    """Requests that wait for a slot, served round robin by the place they come from.

    Within a place the newest and the oldest are served alternately: under overload a new
    request is still answered soon, and none waits for ever.
    """

    def __init__(self) -> None:
        self._places: dict[str | None, deque[Request]] = {}
        self._newest = False

    def __len__(self) -> int:
        return sum(map(len, self._places.values()))

    def append(self, request: Request) -> None:
        """Add a request that waits."""
        self._places.setdefault(request.place, deque()).append(request)

    def popleft(self) -> Request:
        """Remove the request that is served next."""
        place = next(iter(self._places))
        theirs = self._places.pop(place)
        self._newest = not self._newest
        request = theirs.pop() if self._newest else theirs.popleft()
        if theirs:
            # To the end: the others come first.
            self._places[place] = theirs
        return request


class _RunnableQueue(FairQueue):
    """The queue as the pool's threads see it: empty while no slot is free."""

    def __init__(self, dispatcher: SlotDispatcher) -> None:
        super().__init__()
        self._dispatcher = dispatcher

    def __bool__(self) -> bool:
        return self._dispatcher.free_slots > 0 and len(self) > 0

    def popleft(self) -> Any:
        self._dispatcher.free_slots -= 1
        return _RunningRequest(self._dispatcher, super().popleft())


class _RunningRequest:
    """A request that holds a slot.

    Attributes:
        has_slot: False once the slot was given up for good.
    """

    def __init__(self, dispatcher: SlotDispatcher, request: Request) -> None:
        self.dispatcher = dispatcher
        self.since_s = time.monotonic()
        self.has_slot = True
        self._request = request

    def service(self) -> None:
        _thread.running = self
        try:
            self._request.service()
        finally:
            _thread.running = None
            self.release()

    def release(self) -> None:
        """Give the slot up for good; a second call does nothing."""
        if self.has_slot:
            self.has_slot = False
            self.dispatcher.release()

    def cancel(self) -> None:
        self._request.cancel()


class SlotDispatcher(ThreadedTaskDispatcher):  # type: ignore[misc]  # waitress has no types.
    """A pool of threads of which only some run a request at any moment.

    Attributes:
        free_slots: Slots that no request holds; below 0 when requests have come back from
            waiting, which take a slot at once.
    """

    def __init__(self, threads: int, max_running: int = MAX_RUNNING) -> None:
        super().__init__()
        self.free_slots = max_running
        self.queue = _RunnableQueue(self)
        self.set_thread_count(threads)

    def release(self) -> None:
        """Free a slot."""
        with self.lock:
            self.free_slots += 1
            self.queue_cv.notify()

    def acquire(self) -> None:
        """Take a slot without waiting: a request under way goes before one not begun."""
        with self.lock:
            self.free_slots -= 1


def _running_here() -> _RunningRequest | None:
    """The request that this thread runs in a slot; None where it holds none."""
    running: _RunningRequest | None = getattr(_thread, "running", None)
    return running if running is not None and running.has_slot else None


@contextmanager
def slot_released() -> Iterator[None]:
    """Let another request have this thread's slot while the block waits for something.

    Without a slot, as in a thread of another kind, it does nothing.
    """
    running = _running_here()
    if running is None:
        yield
        return
    running.dispatcher.release()
    try:
        yield
    finally:
        running.dispatcher.acquire()


def release_slot_if_long() -> None:
    """Give the slot up for good once a request has run for `LONG_S`, and go on without it.

    Archives take long to send: eight of them would hold every slot until the first has ended.
    """
    running = _running_here()
    if running is not None and time.monotonic() - running.since_s > LONG_S:
        running.release()
