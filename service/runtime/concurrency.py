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
from service.serving.turns import waiting


class Gate:
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
        places: int,
        *,
        wait_s: float,
        detail: str,
        retry_after_s: int = 5,
        most_waiting: int = 30,
    ) -> None:
        self._places = Semaphore(places)
        self._room = Semaphore(most_waiting)
        self._wait_s = wait_s
        self.detail = detail
        self.retry_after_s = retry_after_s

    def enter(self) -> None:
        """Take a place.

        Raises:
            Busy: None came free in time, or too many wait already.
        """
        if not (self._places.acquire(blocking=False) or self._waited()):
            raise Busy(self.detail, retry_after_s=self.retry_after_s)

    def _waited(self) -> bool:
        """Wait for a place, where there is room to wait; whether one came free."""
        if not self._wait_s or not self._room.acquire(blocking=False):
            return False
        try:
            with waiting():
                return self._places.acquire(timeout=self._wait_s)
        finally:
            self._room.release()

    def leave(self) -> None:
        """Give the place back."""
        self._places.release()

    @contextmanager
    def place(self) -> Iterator[None]:
        """Inside for as long as the block runs."""
        self.enter()
        try:
            yield
        finally:
            self.leave()


class FairGate:
    """A gate at which nobody may have more than a few of the places.

    Args:
        gate: How many places there are in all.
        each: How many of them one person may have.
    """

    def __init__(self, gate: Gate, each: int) -> None:
        self._gate = gate
        self._each = each
        self._lock = Lock()
        self._inside: Counter[str] = Counter()

    def enter(self, who: str) -> None:
        """Take a place.

        Raises:
            Busy: Who asks has as many as one may have, or none is free.
        """
        with self._lock:
            if self._inside[who] >= self._each:
                raise Busy(self._gate.detail, retry_after_s=self._gate.retry_after_s)
            self._gate.enter()
            self._inside[who] += 1

    def leave(self, who: str) -> None:
        """Give the place back."""
        with self._lock:
            self._inside[who] -= 1
            if not self._inside[who]:
                del self._inside[who]
        self._gate.leave()
