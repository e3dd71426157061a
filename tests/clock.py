"""A clock for code that asks one for the time."""

from __future__ import annotations


class Clock:
    """Stands still until it is turned."""

    def __init__(self, now: float = 1_000_000.0) -> None:
        self.now = now

    def __call__(self) -> float:
        return self.now
