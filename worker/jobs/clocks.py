"""Clocks that stay right when the machine sleeps: time awake, and the age of a moment.

No clock of the system gives both everywhere. `time.time` runs on while a laptop sleeps, but can
be set forward and back. `time.monotonic` stands still during sleep on Linux and macOS and runs
on during sleep on Windows; on every system it runs on while a process is stopped.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


class AwakeClock:
    """Counts how long this program was awake; it must be read often.

    Args:
        max_step_s: A longer time between two readings counts as this much: the machine slept
            or the program hung.
        now: The clock that is read, in seconds; `time.monotonic` without one.
    """

    def __init__(self, max_step_s: float, now: Callable[[], float] | None = None) -> None:
        self._max_step_s = max_step_s
        self._now = now or time.monotonic
        self._read_at_s = self._now()
        self._awake_s = 0.0

    def read(self) -> float:
        """Seconds awake since this clock was made."""
        now = self._now()
        self._awake_s += min(max(now - self._read_at_s, 0.0), self._max_step_s)
        self._read_at_s = now
        return self._awake_s


@dataclass(frozen=True)
class Moment:
    """A point in time, on two clocks."""

    wall_s: float
    monotonic_s: float

    @classmethod
    def now(cls) -> Moment:
        """This moment."""
        return cls(time.time(), time.monotonic())

    def age_s(self) -> float:
        """How long ago that was at most, in seconds, whether or not the machine slept since."""
        return max(time.time() - self.wall_s, time.monotonic() - self.monotonic_s)
