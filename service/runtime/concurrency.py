"""Bounds on what happens at once.

Who does not fit waits a little, then is told when to come again.

Taking a photo in keeps a core busy, and an event stream holds a thread; without bounds a
crowd of either would stop everybody, health checks included.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, Semaphore

from service.http.errors import Busy
from service.serving.dispatcher import slot_released


class ConcurrencyLimit:
    """At most `places` at once.

    Args:
        places: How many may be inside.
        wait_s: How long one waits outside before it is sent away.
        detail: What it is told then.
        retry_after_s: When it should come again.
        most_waiting: So many may wait; whoever comes then is sent away at once, since each
            of them holds a thread that others need.
    """

    def __init__(
        self,
        slots: int,
        *,
        wait_s: float,
        detail: str,
        retry_after_s: int = 5,
        max_waiting: int = 30,
    ) -> None:
        self._slots = Semaphore(slots)
        self._waiting_room = Semaphore(max_waiting)
        self._wait_s = wait_s
        self.detail = detail
        self.retry_after_s = retry_after_s

    def acquire(self) -> None:
        """Take a place.

        Raises:
            Busy: None came free in time, or too many wait already.
        """
        if not (self._slots.acquire(blocking=False) or self._acquire_waiting()):
            raise Busy(self.detail, retry_after_s=self.retry_after_s)

    def _acquire_waiting(self) -> bool:
        """Wait for a place, where there is room to wait; whether one came free."""
        if not self._wait_s or not self._waiting_room.acquire(blocking=False):
            return False
        try:
            with slot_released():
                return self._slots.acquire(timeout=self._wait_s)
        finally:
            self._waiting_room.release()

    def release(self) -> None:
        """Give the place back."""
        self._slots.release()

    @contextmanager
    def slot(self) -> Iterator[None]:
        """Inside for as long as the block runs."""
        self.acquire()
        try:
            yield
        finally:
            self.release()


class PerPersonLimit:
    """A gate at which nobody may have more than a few of the places.

    Args:
        gate: How many places there are in all.
        each: How many of them one person may have.
    """

    def __init__(self, limit: ConcurrencyLimit, per_person: int) -> None:
        self._limit = limit
        self._per_person = per_person
        self._lock = Lock()
        self._held: Counter[str] = Counter()

    def acquire(self, person_id: str) -> None:
        """Take a place.

        Raises:
            Busy: Who asks has as many as one may have, or none is free.
        """
        with self._lock:
            if self._held[person_id] >= self._per_person:
                raise Busy(self._limit.detail, retry_after_s=self._limit.retry_after_s)
            self._limit.acquire()
            self._held[person_id] += 1

    def release(self, person_id: str) -> None:
        """Give the place back."""
        with self._lock:
            self._held[person_id] -= 1
            if not self._held[person_id]:
                del self._held[person_id]
        self._limit.release()
