"""One answer for all who ask within a few seconds: what is costly to find, and asked by machines.

Several balancers probe each web process every few seconds, and anybody may ask without a key. What
they ask would otherwise become load on the very parts that are looked at.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

_T = TypeVar("_T")


class RecentAnswer(Generic[_T]):
    """The last answer, with its age; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._kept: tuple[float, _T] | None = None
        self._lock = Lock()

    def get(self, find: Callable[[], _T], kept_s: float) -> _T:
        """The answer that was found less than `kept_s` ago, or what `find` finds now.

        While one finds it the others wait, and get the same. An error of `find` is not kept.
        """
        with self._lock:
            if self._kept is None or self._clock() - self._kept[0] >= kept_s:
                found = find()
                self._kept = (self._clock(), found)
            return self._kept[1]
