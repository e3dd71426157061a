"""The clock of a ledger's server, read without asking the server each time.

Machines that share a ledger have clocks of their own, which differ and are set. What decides
(retention, the end of keys, links and classes) must be the same time on all of them. So each
process measures how far the server's clock is from its own, and measures again after some
seconds; and at once where its own two clocks disagree: then one was set, or the machine slept.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

#: After this a difference is measured again, in s. Clocks of computers drift by less than
#: 100 parts in a million (common practice), which is a thousandth of a second until then.
MEASURED_EVERY_S = 10.0
#: The wall clock and the monotonic clock run alike unless one was set or stood still, in s.
ALIKE_S = 0.25


@dataclass(frozen=True)
class _Measured:
    """What was read at one moment, in s."""

    server: float
    wall: float
    monotonic: float


class ServerClock:
    """Seconds since 1970 by the server; for all threads of a process.

    Args:
        ask: Asks the server for its time; called without any lock of the ledger's.
    """

    def __init__(self, ask: Callable[[], float]) -> None:
        self._ask = ask
        self._lock = threading.Lock()
        self._last: _Measured | None = None

    def __call__(self) -> float:
        """The server's time now.

        Raises:
            LedgerUnavailable: The server had to be asked and did not answer.
        """
        last = self._last
        if last is not None:
            passed, by_wall = time.monotonic() - last.monotonic, time.time() - last.wall
            if passed < MEASURED_EVERY_S and abs(passed - by_wall) < ALIKE_S:
                return last.server + passed
        return self._measure().server

    def _measure(self) -> _Measured:
        with self._lock:
            before = time.monotonic()
            server = self._ask()
            # It answered between the two; the middle is wrong by half the time at most.
            later = (time.monotonic() - before) / 2
            self._last = _Measured(server + later, time.time(), time.monotonic())
            return self._last
