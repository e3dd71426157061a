"""A thread pool for waitress in which many requests are open and few run at the same moment.

There are many threads because most of them wait: to take a photo in, for a pack's progress,
for a client to read a response. If all ran at once, each would slow down all others, and a
new request would wait for the slowest of forty. So a request needs a slot to run, and gives
it up while it waits for something else. `turns` says who gets a free slot.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from waitress.task import ThreadedTaskDispatcher

from service.serving.turns import FairQueue, Request, Turn

#: Python runs one thread at a time, the others wait for disk or ledger. Among a thousand requests
#: eight had 95 of 100 plans within 1.2 s, four within 0.7 s, on the same busy two cores.
MAX_RUNNING = 4
#: Most requests take less than a tenth of this.
LONG_S = 1.0
_thread = threading.local()


class _RunnableQueue(FairQueue):
    """The queue as the pool's threads see it: empty while no slot is free."""

    def __init__(self, dispatcher: SlotDispatcher) -> None:
        super().__init__()
        self._dispatcher = dispatcher

    def __bool__(self) -> bool:
        return self._dispatcher.free_slots > 0 and len(self) > 0

    def popleft(self) -> Any:
        request = super().popleft()
        running = _RunningRequest(self._dispatcher, request)
        self._dispatcher.move_slot(request.turn, 1)
        self._dispatcher.began(running)
        return running


class _RunningRequest:
    """A request that a thread runs.

    Attributes:
        has_slot: False while it waits for something, and once the slot was given up for good.
        freed_as_long: Whether it was, because it ran for long.
    """

    def __init__(self, dispatcher: SlotDispatcher, request: Request) -> None:
        self.dispatcher = dispatcher
        self.has_slot = True
        self.freed_as_long = False
        self._since_s = time.monotonic()
        self._given_up = False
        self._request, self._turn = request, request.turn

    def service(self) -> None:
        _thread.running = self
        try:
            self._request.service()
        finally:
            _thread.running = None
            self.give_up()
            self.dispatcher.ended(self)

    @property
    def is_long(self) -> bool:
        """Whether it has held its slot for longer than almost all others do."""
        return self.has_slot and time.monotonic() - self._since_s > LONG_S

    def release(self) -> None:
        """Give the slot away until `take_back`."""
        with self.dispatcher.lock:
            if self.has_slot:
                self.has_slot = False
                self.dispatcher.move_slot(self._turn, -1)
                self.dispatcher.queue_cv.notify()

    def take_back(self) -> None:
        """Take a slot without waiting: a request under way goes before one not begun."""
        with self.dispatcher.lock:
            if not self._given_up:
                self.has_slot, self._since_s = True, time.monotonic()
                self.dispatcher.move_slot(self._turn, 1)

    def give_up(self) -> None:
        """Give the slot away for good."""
        self._given_up = True
        self.release()

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
        self.free_slots = self._max_running = max_running
        self._running: set[_RunningRequest] = set()
        self.queue = _RunnableQueue(self)
        self.set_thread_count(threads)

    def began(self, running: _RunningRequest) -> None:
        """Note a request that begins; called with the lock held."""
        self._running.add(running)

    def move_slot(self, turn: Turn, slots: int) -> None:
        """Take a slot (1) or give it back (-1); called with the lock held."""
        self.free_slots -= slots
        self.queue.hold(turn, slots)

    def ended(self, running: _RunningRequest) -> None:
        """Note that a request is over."""
        with self.lock:
            self._running.discard(running)

    def free_long(self) -> None:
        """Free the slots of requests that run for long; called every second or so.

        What takes so long may wait for something that says nothing of it, such as a storage that
        does not answer. As many requests as there are slots may run so; else, where all is slow,
        ever more would run at once.
        """
        with self.lock:
            running = list(self._running)
        room = self._max_running - sum(one.freed_as_long for one in running)
        for one in [one for one in running if one.is_long][: max(room, 0)]:
            one.freed_as_long = True
            one.give_up()


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
    running.release()
    try:
        yield
    finally:
        running.take_back()


def release_slot_if_long() -> None:
    """Give the slot up for good once a request has run for `LONG_S`, and go on without it.

    Archives take long to send: eight of them would hold every slot until the first has ended.
    """
    running = _running_here()
    if running is not None and running.is_long:
        running.give_up()
