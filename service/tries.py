"""Counting wrong guesses, so that a short code is worth as much as a long one.

A join code has forty random bits. At thirty wrong ones a minute from each place, trying
half of them would take tens of thousands of years.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from threading import Lock

from service.errors import TooManyTries

MOST = 30
WITHIN_S = 60.0
#: Places that are remembered; the oldest are forgotten first.
_PLACES = 10_000


class Tries:
    """Wrong guesses by the place they came from; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._wrong: dict[str, deque[float]] = {}

    def check(self, place: str) -> None:
        """See that this place may guess again.

        Raises:
            TooManyTries: It has guessed wrong too often in the last minute.
        """
        with self._lock:
            wrong = self._wrong.get(place)
            while wrong and wrong[0] <= self._clock() - WITHIN_S:
                wrong.popleft()
            if wrong and len(wrong) >= MOST:
                message = "Too many wrong codes came from here: wait a minute, then try again."
                raise TooManyTries(message, retry_after_s=int(WITHIN_S))

    def count(self, place: str) -> None:
        """Remember a wrong guess."""
        with self._lock:
            wrong = self._wrong.pop(place, deque())
            wrong.append(self._clock())
            self._wrong[place] = wrong
            while len(self._wrong) > _PLACES:
                del self._wrong[next(iter(self._wrong))]
