"""Bounds on what happens at once.

Who does not fit waits a little, then is told when to come again.

Taking a photo in keeps a core busy, and an event stream holds a thread; without bounds a
crowd of either would stop everybody, health checks included.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Semaphore

from service.errors import Busy


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
        self._detail = detail
        self._retry_after_s = retry_after_s

    def enter(self) -> None:
        """Take a place.

        Raises:
            Busy: None came free in time, or too many wait already.
        """
        if not (self._places.acquire(blocking=False) or self._waited()):
            raise Busy(self._detail, retry_after_s=self._retry_after_s)

    def _waited(self) -> bool:
        """Wait for a place, where there is room to wait; whether one came free."""
        if not self._wait_s or not self._room.acquire(blocking=False):
            return False
        try:
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
