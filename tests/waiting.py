"""Waiting for what other processes do, without guessing how long that takes."""

from __future__ import annotations

import time
from collections.abc import Callable

#: What has not come by then hangs. A machine with other work is slow, and no test is timed.
HANG_S = 120.0


def wait_until(true: Callable[[], object], within_s: float = HANG_S, every_s: float = 0.02) -> None:
    """Wait, or fail the test."""
    deadline = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < deadline, f"not within {within_s} s"
        time.sleep(every_s)
