"""Limits on how many requests of a kind run at once.

Decoding a photo keeps a core busy, and an event stream holds a thread: without limits many of
either would stop all requests, health checks included. A request beyond the limit waits for
a slot for a while, then is refused with the time after which to try again.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, Semaphore

from service.http.errors import Busy
from service.runtime.limits.machine_slots import MachineSlots
from service.serving.dispatcher import slot_released

#: How often a slot that another process holds is looked at.
LOOK_S = 0.05


class ConcurrencyLimit:
    """Lets at most `slots` requests run at once.

    Args:
        slots: How many may run.
        wait_s: How long a request waits for a slot before it is refused.
        detail: The text of the refusal.
        retry_after_s: After how many seconds to try again.
        max_waiting: How many may wait. Further ones are refused at once, since each that
            waits holds a thread that others need.
        shared: As many slots for all processes of this machine together; None: this process
            has its slots for itself.
    """

    def __init__(  # noqa: PLR0913 - how many, how long they wait, what is said: each by name.
        self,
        slots: int,
        *,
        wait_s: float,
        detail: str,
        retry_after_s: int = 5,
        max_waiting: int = 30,
        shared: MachineSlots | None = None,
    ) -> None:
        self._slots = Semaphore(slots)
        self._waiting_room = Semaphore(max_waiting)
        self._shared = shared
        self._wait_s = wait_s
        self.detail = detail
        self.retry_after_s = retry_after_s

    def acquire(self) -> None:
        """Take a slot.

        Raises:
            Busy: None became free in time, or too many requests wait already.
        """
        if not (self._slots.acquire(blocking=False) or self._acquire_waiting()):
            raise Busy(self.detail, retry_after_s=self.retry_after_s)
        if self._shared is not None and not (self._shared.take() or self._take_waiting()):
            self._slots.release()
            raise Busy(self.detail, retry_after_s=self.retry_after_s)

    def _take_waiting(self) -> bool:
        """The same for a slot that another process holds, which tells nobody when it is free."""
        if not self._wait_s or not self._waiting_room.acquire(blocking=False):
            return False
        until = time.monotonic() + self._wait_s
        try:
            with slot_released():
                while time.monotonic() < until:
                    time.sleep(LOOK_S)
                    if self._shared is None or self._shared.take():
                        return True
                return False
        finally:
            self._waiting_room.release()

    def _acquire_waiting(self) -> bool:
        """Wait for a slot, unless too many wait already; returns whether one became free."""
        if not self._wait_s or not self._waiting_room.acquire(blocking=False):
            return False
        try:
            with slot_released():
                return self._slots.acquire(timeout=self._wait_s)
        finally:
            self._waiting_room.release()

    def release(self) -> None:
        """Free the slot."""
        if self._shared is not None:
            self._shared.release()
        self._slots.release()

    @contextmanager
    def slot(self) -> Iterator[None]:
        """Hold a slot while the block runs."""
        self.acquire()
        try:
            yield
        finally:
            self.release()


class PerPersonLimit:
    """A limit of which each person may hold only some of the slots.

    Args:
        limit: The limit for all persons together.
        per_person: How many slots one person may hold.
    """

    def __init__(self, limit: ConcurrencyLimit, per_person: int) -> None:
        self._limit = limit
        self._per_person = per_person
        self._lock = Lock()
        self._held: Counter[str] = Counter()

    def acquire(self, person_id: str) -> None:
        """Take a slot.

        Raises:
            Busy: The person holds as many as they may, or none is free.
        """
        with self._lock:
            if self._held[person_id] >= self._per_person:
                raise Busy(self._limit.detail, retry_after_s=self._limit.retry_after_s)
            self._limit.acquire()
            self._held[person_id] += 1

    def release(self, person_id: str) -> None:
        """Free the slot."""
        with self._lock:
            self._held[person_id] -= 1
            if not self._held[person_id]:
                del self._held[person_id]
        self._limit.release()
