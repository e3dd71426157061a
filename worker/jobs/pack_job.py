"""One pack from claim to finish, and every other way in which it may end.

The files are published first and the row is written after them, so the files that a row names
are complete and on the disk. An attempt that lost its lease or failed removes the files that it
published; each attempt has a storage key of its own, so it removes nobody else's.

How a pack's files are made is a parameter, `PackMaker`: the worker process passes
`worker.jobs.pack_from_plan`, which loads imaging and drawing; tests pass their own.
"""

from __future__ import annotations

import logging
import os
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from worker.errors import (
    Cancelled,
    GaveUp,
    LedgerUnavailable,
    PlanNewer,
    RicalcoError,
    StorageFull,
    StorageUnavailable,
)
from worker.jobs import wake
from worker.jobs.draining import Draining
from worker.jobs.heartbeat import Heartbeat, StopReason
from worker.jobs.lease_holders import holder_name
from worker.log_lines import log_facts
from worker.settings import Settings
from worker.store.disk_room import has_room
from worker.store.files import Storage, open_storage
from worker.store.ledger import Claim, Ledger, PackResult, PackRow, open_ledger
from worker.store.metrics.counts import Counts, folder_bytes
from worker.store.metrics.families import (
    ATTEMPTS_AGAIN,
    FAILURES,
    MADE,
    MAKE_SECONDS,
    STORED_BYTES,
    WAIT_SECONDS,
)

_LOG = logging.getLogger(__name__)
#: The pause before another attempt, for each attempt made.
PAUSE_S = 1.0
_UNEXPECTED = (
    "Making failed every time for a reason that is not the photo's or the spec's; the "
    "service's log has it. Try again later, or tell whoever runs the service."
)


@dataclass(frozen=True, kw_only=True)
class PackRequest:
    """What a `PackMaker` is given.

    Attributes:
        pack: The row; its spec and its plan are JSON.
        storage: Where the reference's files are.
        folder: Where `pack.pdf` and `map.png` go, and nothing else.
        heartbeat: Takes progress, and says when to stop.
        threads: How many threads may be used.
    """

    pack: PackRow
    storage: Storage
    folder: Path
    heartbeat: Heartbeat
    threads: int


@dataclass(frozen=True, kw_only=True)
class MadePack:
    """What the ledger records of a pack that was made.

    Attributes:
        number: The pack's number, as it is printed on its sheets.
        total: How many sheets it has.
    """

    number: str
    total: int


class PackMaker(Protocol):
    """Makes the files of one pack."""

    def __call__(self, request: PackRequest) -> MadePack:
        """Make the files in the request's folder.

        Raises:
            Cancelled: The heartbeat stopped it.
            RicalcoError: The pack cannot be made; the error is written into its row.
        """


@dataclass(frozen=True, kw_only=True)
class Connections:
    """One process's connections to the ledger and to the files."""

    ledger: Ledger
    storage: Storage


class PackWorker:
    """Makes packs, in whatever process or thread Celery calls it.

    Args:
        settings: Where ledger and files are, and the limits of time and attempts.
        holder: The worker's name in the ledger; each of its processes adds its number.
        maker: How a pack's files are made.
        draining: Whether the worker is to end; None: it never is.
        counts: Where packs, times and failures are counted.
    """

    def __init__(
        self,
        settings: Settings,
        holder: str,
        maker: PackMaker,
        draining: Draining | None = None,
        counts: Counts | None = None,
    ) -> None:
        self._settings = settings
        self._holder = holder
        self._maker = maker
        self._draining = draining or Draining()
        self._counts = counts or Counts()
        self._lock = threading.Lock()
        self._connections: dict[int, Connections] = {}

    def make_next(self) -> bool:
        """Make the pack that is next in the fair order.

        Returns:
            False where no pack waits, the disk has no room for one, the ledger is away, or the
            worker ends.
        """
        if self._draining.begun:
            # The message that started this is spent: another worker needs one.
            wake(self._settings)
            return False
        connections = self._connections_here()
        claim = self._claim(connections)
        if claim is None:
            return False
        with log_facts(request_id=claim.pack.request_id):
            self._make_claimed(connections, claim)
        return True

    def _make_claimed(self, connections: Connections, claim: Claim) -> None:
        try:
            self._make(connections, claim)
        except LedgerUnavailable:
            # Whether the last commit was done is not known here. The lease runs out, and
            # the sweeper reads it from the ledger.
            _LOG.warning("The ledger went away while %s was made.", claim.pack.id)
        except StorageFull as error:
            # Even with the reserve there was no room to write it into the ledger.
            _LOG.warning("Nothing could be written of %s: %s", claim.pack.id, error)

    def _claim(self, connections: Connections) -> Claim | None:
        """The pack that is next; None also where the ledger does not answer, which is logged."""
        try:
            if has_room(connections.ledger, connections.storage):
                return connections.ledger.claim(holder_name(self._holder))
        except LedgerUnavailable as error:
            # A claim whose answer was lost is freed as any lease that runs out; for packs that
            # wait the sweeper sends another message.
            _LOG.warning("No pack can be begun now: %s", error)
        return None

    def _connections_here(self) -> Connections:
        """This process's own: a forked child must not use its parent's connections."""
        with self._lock:
            process = os.getpid()
            if process not in self._connections:
                ledger, storage = open_ledger(self._settings), open_storage(self._settings)
                self._connections[process] = Connections(ledger=ledger, storage=storage)
            return self._connections[process]

    def _make(self, connections: Connections, claim: Claim) -> None:
        """Make, publish, finish; or write into the ledger why that failed."""
        heartbeat = Heartbeat(
            connections.ledger, claim, self._settings, self._draining, self._counts
        )
        count_wait(self._counts, claim.pack)
        ready = False
        try:
            with heartbeat, self._counts.timed(MAKE_SECONDS):
                made = self._publish(connections, claim, heartbeat)
            ready = connections.ledger.finish(claim, made)
            if ready:
                self._counts.add(MADE)
                _LOG.info("Pack %s is ready.", claim.pack.id)
            else:
                # It was cancelled just now, or the lease was lost: then this does nothing.
                connections.ledger.cancelled(claim)
        except Cancelled:
            self._write_stop(connections.ledger, claim, heartbeat)
        except LedgerUnavailable:
            raise
        except PlanNewer as error:
            again = connections.ledger.leave_to_newer(claim, (error.code, error.detail))
            _LOG.info("Pack %s is for a newer version; it waits: %s", claim.pack.id, again)
        except (StorageFull, StorageUnavailable) as error:
            again = connections.ledger.wait_for_room(claim, error.detail, error.code)
            self._count_end(error.code, again=again)
            _LOG.warning("%s could not be kept, again: %s. %s", claim.pack.id, again, error.detail)
        except RicalcoError as error:
            connections.ledger.fail(claim, error.code, error.detail)
            self._count_end(error.code)
            _LOG.info("Pack %s failed: %s: %s", claim.pack.id, error.code, error.detail)
        except Exception:  # noqa: BLE001 - whatever it is, the row must not hang
            pause_s = PAUSE_S * claim.pack.attempt
            again = connections.ledger.retry(claim, _UNEXPECTED, pause_s=pause_s)
            self._count_end(GaveUp.code, again=again)
            _LOG.exception("Pack %s failed unexpectedly; again: %s", claim.pack.id, again)
        if not ready:
            _discard(connections, claim)

    def _publish(self, connections: Connections, claim: Claim, heartbeat: Heartbeat) -> PackResult:
        """Make the files and publish them under this attempt's own key."""
        with connections.storage.workspace() as folder:
            request = PackRequest(
                pack=claim.pack,
                storage=connections.storage,
                folder=folder,
                heartbeat=heartbeat,
                threads=self._settings.threads,
            )
            made = self._maker(request)
            stored_bytes = folder_bytes(folder)
            connections.storage.publish(folder, claim.files_key)
        self._counts.add(STORED_BYTES, "pack", by=stored_bytes)
        return PackResult(number=made.number, files_key=claim.files_key, total=made.total)

    def _write_stop(self, ledger: Ledger, claim: Claim, heartbeat: Heartbeat) -> None:
        """Write why making the pack stopped; nothing where the lease was lost."""
        if heartbeat.stop_reason is StopReason.CANCELLED:
            ledger.cancelled(claim)
        elif heartbeat.stop_reason is StopReason.TOO_SLOW:
            error = heartbeat.too_slow()
            ledger.fail(claim, error.code, error.detail)
            self._count_end(error.code)
        elif heartbeat.stop_reason is StopReason.HANDED_BACK and ledger.hand_back(claim):
            _LOG.info("Pack %s is handed back: this worker ends.", claim.pack.id)
            wake(self._settings)

    def _count_end(self, code: str, *, again: bool = False) -> None:
        """Count an attempt that failed."""
        if again:
            self._counts.add(ATTEMPTS_AGAIN)
        else:
            self._counts.add(FAILURES, code)


def count_wait(counts: Counts, pack: PackRow) -> None:
    """Count how long a pack waited that is begun for the first time, by the ledger's clock."""
    if pack.attempt == 1 and pack.started_at is not None:
        counts.observe(WAIT_SECONDS, seconds=max(0.0, pack.started_at - pack.created_at))


def _discard(connections: Connections, claim: Claim) -> None:
    """Remove this attempt's files, unless the row names them."""
    if claim.files_key not in connections.ledger.live_attempts([claim.pack.id]):
        # What is left behind by a storage that does not answer, the sweeper deletes.
        with suppress(StorageUnavailable):
            connections.storage.delete(claim.files_key)
