"""What mends whatever died: every few seconds, by one worker process at a time.

Leases that ran out are queued again or given up, workers are woken for packs that nobody
was woken for, and files that belong to nothing are removed: nothing of that is needed while
all goes well. And photos and packs are deleted whose time is over, with all that was made
from them; what the ledger's disk is owed is done (`room`, `Ledger.scrub`).
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from worker.errors import RicalcoError
from worker.ledger import Ledger, SweepReport
from worker.queue.bell import Bell
from worker.queue.job import dead_holders
from worker.queue.missing import MissingFiles
from worker.queue.orphans import remove_orphans
from worker.queue.retention import delete_expired
from worker.queue.room import tell_room
from worker.settings import Settings
from worker.storage import Storage

_LOG = logging.getLogger(__name__)
SWEEP_S = 5.0
#: A sweeper that died loses its turn after this.
TURN_S = 3 * SWEEP_S
#: Looking through all files is for what slipped through everything else.
ORPHANS_S = 600.0
#: At most so many wake-ups lie in the broker on the sweeper's account.
MOST_RINGS = 64
#: After so many sweeps that found packs waiting, messages waiting and this worker idle, it
#: is deaf.
DEAF_AFTER = 6
#: How often what is kept no longer is deleted.
EXPIRE_S = 60.0


@dataclass(frozen=True, kw_only=True)
class Tools:
    """What the threads of one worker process share.

    Attributes:
        settings, ledger, storage, bell: As ever.
        holder: Names the process in the ledger.
        stop: Set when the process is to end.
        restart: Ends the process so that its supervisor starts it again.
    """

    settings: Settings
    holder: str
    ledger: Ledger
    storage: Storage
    bell: Bell
    stop: threading.Event
    restart: Callable[[], None]


class Sweeper(threading.Thread):
    """Sweeps until `stop` is set."""

    def __init__(self, tools: Tools) -> None:
        super().__init__(name="sweeper", daemon=True)
        self._tools = tools
        self._orphans_at = time.monotonic()
        self._expire_at = time.monotonic()
        self._deaf = 0
        self._missing = MissingFiles(tools.ledger, tools.storage)

    def run(self) -> None:
        """Sweep every few seconds; no error ends it."""
        while not self._tools.stop.wait(SWEEP_S):
            try:
                self.sweep()
            except RicalcoError as error:
                _LOG.warning("Not swept this time: %s", error)
            except Exception:  # noqa: BLE001 - a sweeper that ends is not missed until too late
                _LOG.exception("Not swept this time.")

    def sweep(self) -> None:
        """Sweep once, if it is this process's turn."""
        tools = self._tools
        # Workspaces lie on the machine that works in them, and children are known to
        # their parent: each worker looks after its own.
        tools.storage.tidy()
        holders = tools.ledger.holders()
        dead = dead_holders(tools.holder, holders)
        if dead:
            self._mend(tools.ledger.release(dead))
        self._listen(busy=any(name.startswith(tools.holder) for name in holders))
        # A worker that is alone has every turn, and an idle laptop's disk may sleep.
        if not (tools.settings.one_machine or self._take_turn()):
            return
        self._mend(tools.ledger.sweep())
        self._wake()
        tell_room(tools.ledger, tools.storage)
        tools.ledger.scrub()
        if time.monotonic() >= self._expire_at:
            delete_expired(tools.ledger, tools.storage)
            self._expire_at = time.monotonic() + EXPIRE_S
        if time.monotonic() >= self._orphans_at:
            remove_orphans(tools.ledger, tools.storage)
            self._missing.look()
            self._orphans_at = time.monotonic() + ORPHANS_S

    def _listen(self, *, busy: bool) -> None:
        """Restart a worker that has stopped hearing.

        Clients of brokers have done so after broken connections, in one version after
        another; the ledger shows it whatever the cause.
        """
        tools = self._tools
        deaf = not busy and tools.ledger.waiting(longer_than_s=SWEEP_S) > 0
        self._deaf = self._deaf + 1 if deaf and tools.bell.unheard() else 0
        if self._deaf >= DEAF_AFTER:
            _LOG.critical("This worker does not hear that there is work: it restarts.")
            tools.restart()

    def _mend(self, report: SweepReport) -> None:
        """Remove what the dead left, and say so."""
        for key in report.stale_keys:
            self._tools.storage.delete(key)
        if report.requeued or report.gave_up:
            _LOG.warning("Lost packs: %s again, %s given up", report.requeued, report.gave_up)

    def _take_turn(self) -> bool:
        return self._tools.ledger.take_turn("sweep", self._tools.holder, TURN_S)

    def _wake(self) -> None:
        """Ring for packs whose message was lost; the watcher does it on one machine."""
        tools = self._tools
        if tools.settings.one_machine:
            return
        waiting = min(tools.ledger.waiting(longer_than_s=SWEEP_S), MOST_RINGS)
        if waiting:
            tools.bell.ring(max(0, waiting - tools.bell.unheard()))
