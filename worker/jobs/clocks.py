"""Time when machines sleep: how long a program was awake, and how long ago something was.

No clock tells both on every system. `time.time` goes on while a laptop's lid is closed, and
is set forward and back. `time.monotonic` stands still in such a sleep on Linux and macOS and
goes on in it on Windows, and goes on everywhere while a process is stopped.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


class AwakeClock:
    """Counts how long this program was awake, by looks that come often.

    Args:
        most_s: A longer time between two looks counts as so much: then it slept, or hung.
        now: The clock that is looked at; `time.monotonic` without one.
    """

    def __init__(self, most_s: float, now: Callable[[], float] | None = None) -> None:
        self._most_s = most_s
        self._now = now or time.monotonic
        self._seen_s = self._now()
        self._awake_s = 0.0

    def look(self) -> float:
        """Seconds awake since this clock was made."""
        now = self._now()
        self._awake_s += min(max(now - self._seen_s, 0.0), self._most_s)
        self._seen_s = now
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
        """How long ago that was at the most, whatever the machine has done since."""
        return max(time.time() - self.wall_s, time.monotonic() - self.monotonic_s)
