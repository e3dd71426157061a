"""What mends whatever died: every few seconds, by one worker process at a time.

Each step stands for itself, and so does each row and file within one: what goes wrong is
logged, and keeps nothing else.

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
from worker.jobs.clocks import AwakeClock
from worker.jobs.disk_room import report_room
from worker.jobs.pack_job import dead_holders
from worker.jobs.upkeep.missing_files import MissingFiles
from worker.jobs.upkeep.orphans import remove_orphans
from worker.jobs.upkeep.removal import remove_each
from worker.jobs.upkeep.retention import delete_expired
from worker.jobs.wakeup import WakeupSender
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import Ledger, SweepReport

_LOG = logging.getLogger(__name__)
SWEEP_S = 5.0
#: A sweeper that died loses its turn after this.
TURN_S = 3 * SWEEP_S
#: Looking through all files is for what slipped through everything else.
ORPHANS_EVERY_S = 600.0
#: A lease that has run out is freed when it stays so for this long while this process is
#: awake. Who slept as long as this process renews within a blink (`worker.jobs.heartbeat`).
LAPSE_GRACE_S = 2 * SWEEP_S
#: At most so many wake-ups lie in the broker on the sweeper's account.
MAX_PENDING = 64
#: After so many sweeps that found packs waiting, messages waiting and this worker idle, it
#: is deaf.
DEAF_SWEEPS = 6
#: How often what is kept no longer is deleted.
EXPIRE_EVERY_S = 60.0


@dataclass(frozen=True, kw_only=True)
class WorkerResources:
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
    wakeups: WakeupSender
    stop: threading.Event
    restart: Callable[[], None]


class Sweeper(threading.Thread):
    """Sweeps until `stop` is set; `now` is the clock for its own pauses."""

    def __init__(
        self, resources: WorkerResources, *, now: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(name="sweeper", daemon=True)
        self._resources = resources
        self._now = now
        self._orphans_at = self._expire_at = now()
        self._awake = AwakeClock(SWEEP_S, now)
        self._watched_s, self._late = 0.0, dict[str, float]()
        self._deaf = 0
        self._missing = MissingFiles(resources.ledger, resources.storage)

    def run(self) -> None:
        """Sweep every few seconds; no error ends it."""
        while not self._resources.stop.wait(SWEEP_S):
            self.sweep()

    def sweep(self) -> None:
        """Sweep once; what all workers share, only if it is this process's turn."""
        # Workspaces lie on the machine that works in them, and children are known to
        # their parent: each worker looks after its own. Leases are watched by all, so that
        # whose turn comes next need not begin to wait.
        own = (
            self._resources.storage.tidy,
            self._free_own,
            self._restart_if_deaf,
            self._watch_leases,
        )
        for step in own:
            _do(step)
        # A worker that is alone has every turn, and an idle laptop's disk may sleep.
        if not (self._resources.settings.one_machine or _do(self._take_turn)):
            return
        for step in (
            self._free_lapsed,
            self._wake,
            self._report_room,
            self._resources.ledger.scrub,
            self._resources.ledger.forget_keys,
            self._expire,
            self._remove_orphans,
        ):
            _do(step)

    def _free_own(self) -> None:
        """Free what this worker's own killed processes held; no lease is waited for."""
        resources = self._resources
        dead = dead_holders(resources.holder, resources.ledger.holders())
        if dead:
            self._mend(resources.ledger.release(dead))

    def _watch_leases(self) -> None:
        """See since when, in time awake, which leases have run out.

        After a laptop's sleep every lease has, and who holds it goes on. So one must stay as
        it is while this process is awake to see it.
        """
        now = self._watched_s = self._awake.look()
        self._late = {one: self._late.get(one, now) for one in self._resources.ledger.lapsed()}

    def _free_lapsed(self) -> None:
        """Free what lies with the dead, and not with those who have only slept."""
        patience_s = min(LAPSE_GRACE_S, self._resources.settings.lease_seconds)
        latest = self._watched_s - patience_s
        dead = [token for token, since in self._late.items() if since <= latest]
        if dead:
            self._mend(self._resources.ledger.sweep(dead))

    def _report_room(self) -> None:
        report_room(self._resources.ledger, self._resources.storage)

    def _expire(self) -> None:
        if self._now() >= self._expire_at:
            self._expire_at = self._now() + EXPIRE_EVERY_S
            delete_expired(self._resources.ledger, self._resources.storage)

    def _remove_orphans(self) -> None:
        if self._now() >= self._orphans_at:
            self._orphans_at = self._now() + ORPHANS_EVERY_S
            remove_orphans(self._resources.ledger, self._resources.storage)
            self._missing.look()

    def _restart_if_deaf(self) -> None:
        """Restart a worker that has stopped hearing.

        Clients of brokers have done so after broken connections, in one version after
        another; the ledger shows it whatever the cause.
        """
        resources = self._resources
        busy = any(name.startswith(resources.holder) for name in resources.ledger.holders())
        deaf = not busy and resources.ledger.waiting(longer_than_s=SWEEP_S) > 0
        self._deaf = self._deaf + 1 if deaf and resources.wakeups.pending() else 0
        if self._deaf >= DEAF_SWEEPS:
            _LOG.critical("This worker does not hear that there is work: it restarts.")
            resources.restart()

    def _mend(self, report: SweepReport) -> None:
        """Remove what the dead left, and say so."""
        remove_each(self._resources.storage, report.stale_keys)
        if report.requeued or report.gave_up:
            _LOG.warning("Lost packs: %s again, %s given up", report.requeued, report.gave_up)

    def _take_turn(self) -> bool:
        return self._resources.ledger.take_turn("sweep", self._resources.holder, TURN_S)

    def _wake(self) -> None:
        """Ring for packs whose message was lost; the watcher does it on one machine."""
        resources = self._resources
        if resources.settings.one_machine:
            return
        waiting = min(resources.ledger.waiting(longer_than_s=SWEEP_S), MAX_PENDING)
        if waiting:
            resources.wakeups.send(max(0, waiting - resources.wakeups.pending()))


def _do(step: Callable[[], object]) -> object:
    """Do one step; None where it failed, which is logged and keeps no other step."""
    try:
        return step()
    except RicalcoError as error:
        _LOG.warning("%s is left for the next sweep: %s", step.__name__, error)
    except Exception:  # noqa: BLE001 - a sweeper that ends is not missed until too late
        _LOG.exception("%s is left for the next sweep.", step.__name__)
    return None
