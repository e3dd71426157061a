"""No fork while a thread of this process writes to SQLite.

SQLite keeps what its process has locked in memory. A child that is forked in the middle of a
write inherits that note, which nobody in the child ever clears: each of its own writes then
finds the ledger locked. A pool of workers forks at any moment, while upkeep writes in a thread.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager

#: Longer than a transaction waits for the write lock: a fork is delayed, never prevented.
LONGEST_DELAY_S = 15.0


class ForkGuard:
    """Counts the writes under way; a fork waits for their end, and new ones wait for the fork."""

    def __init__(self) -> None:
        self._reset()
        if hasattr(os, "register_at_fork"):
            os.register_at_fork(
                before=self._before, after_in_parent=self._after, after_in_child=self._reset
            )

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Let no fork happen while the block runs."""
        with self._changed:
            self._writes += 1
        try:
            yield
        finally:
            with self._changed:
                self._writes -= 1
                self._changed.notify_all()

    def _reset(self) -> None:
        """As at the start, and in a child: it has none of the parent's other threads."""
        self._writes = 0
        self._changed = threading.Condition()

    def _before(self) -> None:
        self._changed.acquire()
        self._changed.wait_for(lambda: not self._writes, LONGEST_DELAY_S)

    def _after(self) -> None:
        self._changed.release()


#: One for the process, as SQLite's locks are.
FORK_GUARD = ForkGuard()
