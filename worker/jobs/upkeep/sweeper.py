"""The sweeper: periodic repair and clean-up, every few seconds, by one worker at a time.

Packs whose lease ran out are queued again or given up, messages are sent for packs that wait
without one, and files that no row names are deleted: none of that is needed while all goes well.
Photos and packs whose retention time is over are deleted too, and traces of deleted rows are
removed from the ledger's log (`Ledger.scrub`). What webhooks are told is sent in threads apart.

The steps are independent, and so is each row and file within a step: an error is logged and
does not stop the others.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import TYPE_CHECKING

from worker.errors import (
    FolderNotWritable,
    GaveUp,
    LedgerUnavailable,
    RicalcoError,
    StorageFull,
    StorageUnavailable,
)
from worker.jobs.clocks import AwakeClock
from worker.jobs.lease_holders import dead_holders
from worker.jobs.upkeep.cleanup import delete_each, delete_expired, remove_orphans
from worker.jobs.upkeep.deletion_lists import delete_again, write_list
from worker.jobs.upkeep.missing_files import MissingFiles
from worker.jobs.upkeep.results import ResultTeller
from worker.jobs.wakeup import WakeupSender
from worker.settings import Settings
from worker.store.disk_room import check_room
from worker.store.files import Storage
from worker.store.ledger import FreedPacks, Ledger
from worker.store.metrics.counts import Counts
from worker.store.metrics.families import ATTEMPTS_AGAIN, FAILURES

if TYPE_CHECKING:
    from worker.jobs.upkeep.webhooks.delivery import Delivery

_LOG = logging.getLogger(__name__)
SWEEP_S = 5.0
VERSION = version("ricalco")
#: Another worker sweeps when the one whose turn it is has not done so for this long.
TURN_S = 3 * SWEEP_S
#: Orphans are rare, and finding them reads every folder.
ORPHANS_EVERY_S = 600.0
#: A lease that ran out is freed when it has stayed so for this long while this process was
#: awake. After a sleep of the machine a live process renews its lease at once
#: (`worker.jobs.heartbeat`).
LAPSE_GRACE_S = 2 * SWEEP_S
#: The sweeper sends no more messages when this many wait in the broker.
MAX_PENDING = 64
#: After this many sweeps in a row that found packs waiting, messages waiting and this worker
#: idle, it takes no messages any more.
DEAF_SWEEPS = 6
#: How often expired photos and packs are deleted.
EXPIRE_EVERY_S = 60.0


@dataclass(frozen=True, kw_only=True)
class WorkerResources:
    """What the threads of one worker process share.

    Attributes:
        settings: Of this worker.
        holder: The worker's name in the ledger; see `worker.jobs.lease_holders`.
        ledger: References, packs and leases.
        storage: Where files are kept.
        wakeups: Sends messages to the queue that this worker takes them from.
        stop: Set when the process is to end.
        restart: Ends the process so that its supervisor starts it again.
        counts: What this process counts for metrics.
    """

    settings: Settings
    holder: str
    ledger: Ledger
    storage: Storage
    wakeups: WakeupSender
    stop: threading.Event
    restart: Callable[[], None]
    counts: Counts = field(default_factory=Counts)


class Sweeper(threading.Thread):
    """Sweeps until `stop` is set.

    Args:
        resources: Shared with the other threads.
        now: The clock for pauses between its steps, in seconds.
    """

    def __init__(
        self, resources: WorkerResources, *, now: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(name="sweeper", daemon=True)
        self._resources = resources
        self._now = now
        self._orphans_at = self._expire_at = now()
        self._awake = AwakeClock(SWEEP_S, now)
        self._watched_s, self._lapsed_since = 0.0, dict[str, float]()
        self._deaf_sweeps = 0
        self._missing = MissingFiles(resources.ledger, resources.storage)
        self._delivery: Delivery | None = None
        hosts = resources.settings.lti_private_hosts
        self._results = ResultTeller(resources.ledger, hosts)

    def run(self) -> None:
        """Sweep every few seconds; no error ends it."""
        while not self._resources.stop.wait(SWEEP_S):
            self.sweep()

    def sweep(self) -> None:
        """Sweep once; steps for what all workers share only if it is this process's turn."""
        # Workspaces are on the machine that uses them, and only a parent knows its children,
        # so each worker does these steps. Each also watches the leases, so that a worker whose
        # turn begins has watched them for some time already.
        own = (
            self._say_alive,
            self._resources.storage.tidy,
            self._free_own,
            self._restart_if_deaf,
            self._watch_leases,
        )
        for step in own:
            _do(step)
        # A worker that is alone has every turn; it writes none, so that a laptop's disk may sleep.
        if not (self._resources.settings.one_machine or _do(self._take_turn)):
            return
        for step in (
            self._free_lapsed,
            self._wake,
            self._report_room,
            self._send_webhooks,
            self._resources.ledger.scrub,
            self._resources.ledger.forget_expired_keys,
            self._expire,
            self._results.tell,
            self._remove_orphans,
        ):
            _do(step)

    def _say_alive(self) -> None:
        """Have the service know that this worker lives; on one machine its lock says so."""
        resources = self._resources
        if not resources.settings.one_machine:
            resources.ledger.workers.note(resources.holder, resources.settings.workers, VERSION)

    def _free_own(self) -> None:
        """Free the packs of this worker's own killed processes, before their leases run out."""
        resources = self._resources
        dead = dead_holders(resources.holder, resources.ledger.lease_holders())
        if dead:
            self._clean_up(resources.ledger.free_held_by(dead))

    def _watch_leases(self) -> None:
        """Note for each lease that ran out since when that is, in seconds awake.

        After a laptop's sleep every lease has run out, while the processes that hold them go on.
        So a lease must stay as it is while this process is awake and sees it.
        """
        now = self._watched_s = self._awake.read()
        self._lapsed_since = {
            one: self._lapsed_since.get(one, now) for one in self._resources.ledger.lapsed_leases()
        }

    def _free_lapsed(self) -> None:
        """Free the packs of processes that died, but not of those that only slept."""
        grace_s = min(LAPSE_GRACE_S, self._resources.settings.lease_seconds)
        latest = self._watched_s - grace_s
        dead = [token for token, since in self._lapsed_since.items() if since <= latest]
        if dead:
            self._clean_up(self._resources.ledger.free_lapsed(dead))

    def _report_room(self) -> None:
        """Have packs that wait say whether it is for room, and log when that changes.

        On a disk that is completely full even that cannot be written; then it is only logged.
        """
        try:
            check_room(self._resources.ledger, self._resources.storage)
        except (StorageFull, FolderNotWritable, StorageUnavailable) as full:
            if self._note_room(there=False):
                _LOG.error("Packs wait for somewhere to be kept. %s", full)
            return
        if waited := self._note_room(there=True):
            _LOG.info("There is room again: %d packs that waited for it are made.", waited)

    def _note_room(self, *, there: bool) -> int:
        """How many packs changed what they say; 1 where it could not be written."""
        try:
            return self._resources.ledger.note_room(there=there)
        except (StorageFull, LedgerUnavailable):
            return 1

    def _expire(self) -> None:
        if self._now() >= self._expire_at:
            self._expire_at = self._now() + EXPIRE_EVERY_S
            delete_expired(self._resources.ledger, self._resources.storage)
            write_list(self._resources.ledger, self._resources.storage)

    def _remove_orphans(self) -> None:
        if self._now() >= self._orphans_at:
            self._orphans_at = self._now() + ORPHANS_EVERY_S
            delete_again(self._resources.ledger, self._resources.storage)
            remove_orphans(self._resources.ledger, self._resources.storage)
            self._missing.check_some()

    def _send_webhooks(self) -> None:
        """Have what is due to webhooks sent, in threads apart."""
        resources = self._resources
        if not resources.ledger.deliveries.due():
            return
        # Where nobody has a webhook, TLS and the like are never loaded.
        from worker.jobs.upkeep.webhooks.delivery import make_delivery  # noqa: PLC0415

        if self._delivery is None:
            networks = resources.settings.webhook_networks
            self._delivery = make_delivery(resources.ledger, networks, resources.stop)
        self._delivery.start_sending()

    def _restart_if_deaf(self) -> None:
        """Restart a worker that takes no messages any more.

        Several versions of broker clients did that after broken connections; the ledger shows
        it whatever the cause.
        """
        resources = self._resources
        busy = any(name.startswith(resources.holder) for name in resources.ledger.lease_holders())
        deaf = not busy and resources.ledger.waiting(longer_than_s=SWEEP_S, most=1) > 0
        self._deaf_sweeps = self._deaf_sweeps + 1 if deaf and resources.wakeups.pending() else 0
        if self._deaf_sweeps >= DEAF_SWEEPS:
            _LOG.critical("This worker does not hear that there is work: it restarts.")
            resources.restart()

    def _clean_up(self, report: FreedPacks) -> None:
        """Delete the files that freed packs left, and log what was freed."""
        delete_each(self._resources.storage, report.stale_keys)
        if report.requeued or report.gave_up:
            counts = self._resources.counts
            counts.add(ATTEMPTS_AGAIN, by=float(len(report.requeued)))
            counts.add(FAILURES, GaveUp.code, by=float(len(report.gave_up)))
            _LOG.warning("Lost packs: %s again, %s given up", report.requeued, report.gave_up)

    def _take_turn(self) -> bool:
        return self._resources.ledger.take_turn("sweep", self._resources.holder, TURN_S)

    def _wake(self) -> None:
        """Send messages for packs whose message was lost; on one machine `LedgerWatch` does."""
        resources = self._resources
        if resources.settings.one_machine:
            return
        waiting = resources.ledger.waiting(longer_than_s=SWEEP_S, most=MAX_PENDING)
        if waiting:
            resources.wakeups.send(max(0, waiting - resources.wakeups.pending()))


def _do(step: Callable[[], object]) -> object:
    """Do one step; an error is logged and does not stop the other steps. None after an error."""
    try:
        return step()
    except RicalcoError as error:
        _LOG.warning("%s is left for the next sweep: %s", step.__name__, error)
    except Exception:  # noqa: BLE001 - the thread must not end: nothing else does its work
        _LOG.exception("%s is left for the next sweep.", step.__name__)
    return None
