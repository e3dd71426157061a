"""Turns at work: many requests may be under way, few are worked on at the same moment.

Threads are many because most of them wait: for a photo's turn to be taken in, for a pack's
news, for somebody to take an answer. Were they all at work at once, each would be slowed by
all others, and whoever comes would wait for the slowest of forty. So a request that is to
be worked on waits until a turn is free, and one that waits for something else gives its turn
away meanwhile. Whose turn it is goes round by the place that requests come from.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from waitress.task import ThreadedTaskDispatcher

#: Python works on one at a time and the cores on a few; the rest are with disk or ledger.
MOST_AT_WORK = 8
#: Most answers are there in a tenth of this.
LONG_S = 1.0
_here = threading.local()


class Request(Protocol):
    """A connection on which something is asked."""

    place: str | None

    def service(self) -> None:
        """Answer it."""

    def cancel(self) -> None:
        """Do not answer it."""


class FairQueue:
    """Requests that wait for a turn: each place after the others.

    Within a place the newest and the oldest take turns: where more comes than can be
    answered, who has just come is answered soon, and nobody waits for ever.
    """

    def __init__(self) -> None:
        self._places: dict[str | None, deque[Request]] = {}
        self._newest = False

    def __len__(self) -> int:
        return sum(map(len, self._places.values()))

    def append(self, request: Request) -> None:
        """Wait."""
        self._places.setdefault(request.place, deque()).append(request)

    def popleft(self) -> Request:
        """Whose turn it is."""
        place = next(iter(self._places))
        theirs = self._places.pop(place)
        self._newest = not self._newest
        request = theirs.pop() if self._newest else theirs.popleft()
        if theirs:
            # To the end: the others come first.
            self._places[place] = theirs
        return request


class _Turns(FairQueue):
    """The queue as the threads see it: empty while no turn is free."""

    def __init__(self, dispatcher: Dispatcher) -> None:
        super().__init__()
        self._dispatcher = dispatcher

    def __bool__(self) -> bool:
        return self._dispatcher.free > 0 and len(self) > 0

    def popleft(self) -> Any:
        self._dispatcher.free -= 1
        return _Turn(self._dispatcher, super().popleft())


class _Turn:
    """A request whose turn it is.

    Attributes:
        held: Whether the turn is still its own, or was left for good.
    """

    def __init__(self, dispatcher: Dispatcher, request: Request) -> None:
        self.dispatcher = dispatcher
        self.since_s = time.monotonic()
        self.held = True
        self._request = request

    def service(self) -> None:
        _here.turn = self
        try:
            self._request.service()
        finally:
            _here.turn = None
            self.leave()

    def leave(self) -> None:
        """Give the turn away for good."""
        if self.held:
            self.held = False
            self.dispatcher.give()

    def cancel(self) -> None:
        self._request.cancel()


class Dispatcher(ThreadedTaskDispatcher):  # type: ignore[misc]  # waitress has no types.
    """Threads of which so many at a time may work.

    Attributes:
        free: Turns that nobody has; below 0 when some have come back from waiting.
    """

    def __init__(self, threads: int, at_work: int = MOST_AT_WORK) -> None:
        super().__init__()
        self.free = at_work
        self.queue = _Turns(self)
        self.set_thread_count(threads)

    def give(self) -> None:
        """Give a turn away."""
        with self.lock:
            self.free += 1
            self.queue_cv.notify()

    def take(self) -> None:
        """Take a turn again, at once: whoever has begun must not wait for who has not."""
        with self.lock:
            self.free -= 1


def _held() -> _Turn | None:
    """The turn that this thread has; None where there are no turns."""
    turn: _Turn | None = getattr(_here, "turn", None)
    return turn if turn is not None and turn.held else None


@contextmanager
def waiting() -> Iterator[None]:
    """Around whatever waits for something else than a turn; elsewhere it does nothing."""
    turn = _held()
    if turn is None:
        yield
        return
    turn.dispatcher.give()
    try:
        yield
    finally:
        turn.dispatcher.take()


def go_on() -> None:
    """Leave the turn where an answer goes on for long, as an archive does while it is sent.

    Eight of those would let nobody in until the first has ended; so they go on beside.
    """
    turn = _held()
    if turn is not None and time.monotonic() - turn.since_s > LONG_S:
        turn.leave()
