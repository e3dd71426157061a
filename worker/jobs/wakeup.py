"""What starts a task in the worker: messages that only say that there is work.

With a broker the service sends one after each commit. On one machine there is no broker, and
a thread of the worker sends them itself: every 25 ms it checks whether anyone has committed to
the ledger (`PRAGMA data_version`, some microseconds). From commit to start takes 20 to 50 ms;
an idle machine spends about 1 % of one core. While every slot has its messages nothing can be
sent, so the ledger is not asked: it would be after each progress, which took 3 % of a core.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache

from celery import Celery
from kombu.connection import Connection

from worker.errors import BrokerUnavailable, RicalcoError
from worker.jobs.celery_app import DO_NOTHING, MAKE_NEXT, MEMORY, QUEUE, make_publisher
from worker.settings import Settings
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
#: How often the ledger is checked for a commit.
CHECK_S = 0.025
#: Packs are counted this often even without a commit: a pause before another attempt may be over.
RECOUNT_S = 1.0
#: The same while packs wait: a message that started nothing is repeated.
BUSY_RECOUNT_S = 0.1


class WakeupSender:
    """Sends messages with one app, for several threads."""

    def __init__(self, app: Celery) -> None:
        self._app = app
        self._lock = threading.Lock()
        # A queue in memory cannot be lost, so its connection is kept: it is asked all the time.
        self._kept: Connection | None = None
        self._keeps = app.conf.broker_url == MEMORY

    def send(self, times: int = 1) -> bool:
        """Start `times` tasks.

        Returns:
            False where the broker cannot be reached. That is no error: the sweeper sends again
            for packs that have waited too long.
        """
        try:
            for _ in range(times):
                self._app.send_task(MAKE_NEXT, queue=QUEUE, retry=False, ignore_result=True)
        except Exception as error:  # noqa: BLE001 - each broker has its own errors
            _LOG.warning("No worker could be woken; the sweeper will try: %s", error)
            return False
        return True

    def hasten_shutdown(self) -> None:
        """Let a worker on one machine end soon.

        Its loop waits two seconds for a message before it checks whether it should stop, and
        two seconds more. So it gets two messages that do nothing, and messages that would
        begin a pack are removed.
        """
        with self._lock, self._app.connection_for_write() as connection:
            connection.default_channel.queue_purge(QUEUE)
        for _ in range(2):
            self._app.send_task(DO_NOTHING, queue=QUEUE)

    def check(self) -> None:
        """Raise BrokerUnavailable unless the broker answers; waits some seconds at most."""
        try:
            with self._app.connection_for_write() as connection:
                connection.ensure_connection(max_retries=1, timeout=2)
        except Exception as error:
            message = "The message broker does not answer: start it, or set RICALCO_BROKER_URL."
            raise BrokerUnavailable(message) from error

    def pending(self) -> int:
        """How many messages wait in the broker; 0 where it cannot be reached."""
        try:
            with self._lock, self._connection() as connection:
                declared = connection.default_channel.queue_declare(QUEUE, passive=True)
                return int(declared.message_count)
        except Exception as error:  # noqa: BLE001 - also a queue nobody has declared yet
            _LOG.debug("The queue's length is not known: %s", error)
            return 0

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        """The one that is kept, or a new one that is closed again."""
        if not self._keeps:
            with self._app.connection_for_write() as connection:
                yield connection
            return
        if self._kept is None:
            self._kept = self._app.connection_for_write()
        yield self._kept


@cache
def sender_for(settings: Settings) -> WakeupSender:
    """The sender of a process that makes no packs, such as the service."""
    return WakeupSender(make_publisher(settings))


@dataclass(frozen=True, kw_only=True)
class WorkerSlots:
    """Where packs are made in this worker.

    Attributes:
        count: How many are made side by side.
        busy: How many messages this worker has taken and not finished.
        room: Whether the disk has room for a pack; without it no message is sent.
    """

    count: int
    busy: Callable[[], int]
    room: Callable[[], bool]


class LedgerWatch(threading.Thread):
    """Sends messages on one machine when packs wait, until `stop` is set.

    Args:
        ledger: It is checked for commits and for packs that wait.
        wakeups: Its queue is in memory.
        slots: Where the packs will be made.
        stop: Set when the worker shuts down.
    """

    def __init__(
        self, ledger: Ledger, wakeups: WakeupSender, slots: WorkerSlots, stop: threading.Event
    ) -> None:
        super().__init__(name="ledger-watch", daemon=True)
        self._ledger = ledger
        self._wakeups = wakeups
        self._slots = slots
        self._stop_asked = stop
        self._sent_at = 0.0

    def run(self) -> None:
        """Check, and send when something changed or has waited; no error ends it."""
        seen, recount_at, waiting = -1, 0.0, 0
        while not self._stop_asked.wait(CHECK_S):
            try:
                if waiting and not self._missing():
                    continue
                version = self._ledger.data_version()
                if version == seen and time.monotonic() < recount_at:
                    continue
                seen, waiting = version, self._send()
            except RicalcoError as error:
                _LOG.warning("The ledger cannot be watched: %s", error)
                waiting = 0
            except Exception:  # noqa: BLE001 - without this thread no pack would ever be begun
                _LOG.exception("The ledger cannot be watched.")
                waiting = 0
            recount_at = time.monotonic() + (BUSY_RECOUNT_S if waiting else RECOUNT_S)

    def _send(self) -> int:
        """Have one message per pack that waits, and at most two per slot.

        The second is ready when the slot becomes free. A message too many finds nothing to do
        and ends within a millisecond.

        Returns:
            How many packs wait, of as many as count here; 0 where the disk has no room for one.
        """
        waiting = self._ledger.waiting(most=2 * self._slots.count)
        if waiting and not self._slots.room():
            return 0
        if waiting and (missing := self._missing()):
            self._wakeups.send(min(waiting, missing))
            self._sent_at = time.monotonic()
        return waiting

    def _missing(self) -> int:
        """How many messages the slots could take; 0 while they have two each.

        Once a second one is sent whatever the count says: Celery may still count what a killed
        process had taken.
        """
        pending = self._wakeups.pending()
        missing = 2 * self._slots.count - self._slots.busy() - pending
        if not pending and time.monotonic() - self._sent_at > RECOUNT_S:
            return max(missing, 1)
        return max(missing, 0)
