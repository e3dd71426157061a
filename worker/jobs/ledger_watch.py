"""What wakes the worker on one machine, where there is no broker.

A thread looks every 25 ms whether anyone has committed to the ledger (`PRAGMA
data_version`, some microseconds), and rings for as many packs as wait. From commit to
start takes 20 to 50 ms; an idle machine spends about 1 % of one core.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from worker.errors import RicalcoError
from worker.jobs.wakeup import WakeupSender
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
LOOK_S = 0.025
#: While packs wait, so that a slot that becomes free is not left idle.
EAGER_LOOK_S = 0.01
#: Even without a commit: a pause before another attempt may be over.
AGAIN_S = 1.0
#: A ring that started nothing is repeated after this.
EAGER_AGAIN_S = 0.1


@dataclass(frozen=True, kw_only=True)
class WorkerSlots:
    """Where packs are made in this worker.

    Attributes:
        count: How many are made side by side.
        busy: How many messages this worker has taken and not finished.
        room: Whether the disk has room for a pack; without it nobody is woken.
    """

    count: int
    busy: Callable[[], int]
    room: Callable[[], bool]


class Watcher(threading.Thread):
    """Rings until it is told to stop.

    Args:
        ledger, bell: What is watched and what is rung; the bell's queue is in memory.
        slots: Who may be rung for.
        stop: Set when the worker shuts down.
    """

    def __init__(
        self, ledger: Ledger, wakeups: WakeupSender, slots: WorkerSlots, stop: threading.Event
    ) -> None:
        super().__init__(name="watcher", daemon=True)
        self._ledger = ledger
        self._bell = wakeups
        self._slots = slots
        self._stop_asked = stop
        self._sent_at = 0.0

    def run(self) -> None:
        """Look, and ring when something changed or has waited; no error ends it."""
        seen, again_at, waiting = -1, 0.0, 0
        while not self._stop_asked.wait(EAGER_LOOK_S if waiting else LOOK_S):
            try:
                version = self._ledger.data_version()
                if version == seen and time.monotonic() < again_at:
                    continue
                seen, waiting = version, self._send()
            except RicalcoError as error:
                _LOG.warning("The ledger cannot be watched: %s", error)
                waiting = 0
            except Exception:  # noqa: BLE001 - without the watcher no pack would ever be begun
                _LOG.exception("The ledger cannot be watched.")
                waiting = 0
            again_at = time.monotonic() + (EAGER_AGAIN_S if waiting else AGAIN_S)

    def _send(self) -> int:
        """Have one message per pack that waits, and at most two per slot.

        The second lies ready when the slot becomes free. A message too many finds nothing
        and ends within a millisecond. Once a second one is sent whatever the count says:
        Celery may still count what a killed process had taken.
        """
        waiting = self._ledger.waiting()
        if waiting and not self._slots.room():
            return 0
        if waiting:
            pending = self._bell.pending()
            room = 2 * self._slots.count - self._slots.busy() - pending
            if not pending and time.monotonic() - self._sent_at > AGAIN_S:
                room = max(room, 1)
            if room > 0:
                self._bell.send(min(waiting, room))
                self._sent_at = time.monotonic()
        return waiting
