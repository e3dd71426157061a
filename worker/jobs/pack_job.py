"""One pack from claim to finish, and every way in which it may end otherwise.

Files first, then the row: what the row names is whole and on the disk. Whoever lost the
lease, or failed, removes what it published; names by attempt keep it off anyone else's.
"""

from __future__ import annotations

import logging
import os
import threading
from dataclasses import dataclass

from worker.errors import Cancelled, LedgerUnavailable, RicalcoError, StorageFull
from worker.jobs.disk_room import has_room
from worker.jobs.heartbeat import Heartbeat, StopReason
from worker.jobs.pack_maker import PackMaker, PackRequest
from worker.jobs.process_identity import is_alive, process_name
from worker.settings import Settings
from worker.store.files import Storage, open_storage
from worker.store.ledger import Claim, Ledger, Made, open_ledger

_LOG = logging.getLogger(__name__)
#: The pause before another attempt, per attempt made.
PAUSE_S = 1.0
_UNEXPECTED = (
    "Making failed every time for a reason that is not the photo's or the spec's; the "
    "service's log has it. Try again later, or tell whoever runs the service."
)


@dataclass(frozen=True, kw_only=True)
class Connections:
    """What one process makes packs with; see `PackWorker`."""

    ledger: Ledger
    storage: Storage


class PackWorker:
    """Makes packs, in whatever process or thread Celery calls it.

    Args:
        settings: As ever.
        holder: Names this worker in the ledger; each of its processes adds its number.
        maker: How a pack is made.
    """

    def __init__(self, settings: Settings, holder: str, maker: PackMaker) -> None:
        self._settings = settings
        self._holder = holder
        self._maker = maker
        self._lock = threading.Lock()
        self._connections: dict[int, Connections] = {}

    def make_next(self) -> bool:
        """Make the fairest pack that waits; False where none does."""
        connections = self._connections_here()
        if not has_room(connections.ledger, connections.storage):
            return False
        claim = connections.ledger.claim(holder_name(self._holder))
        if claim is None:
            return False
        try:
            self._make(connections, claim)
        except LedgerUnavailable:
            # What was committed is not known here. The lease runs out, and the sweeper,
            # who knows, decides.
            _LOG.warning("The ledger went away while %s was made.", claim.pack.id)
        except StorageFull as error:
            # Not even the reserve was enough to say so in the ledger.
            _LOG.warning("Nothing could be written of %s: %s", claim.pack.id, error)
        return True

    def _connections_here(self) -> Connections:
        """One per process: a forked child must not use its parent's connections."""
        with self._lock:
            process = os.getpid()
            if process not in self._connections:
                ledger, storage = open_ledger(self._settings), open_storage(self._settings)
                self._connections[process] = Connections(ledger=ledger, storage=storage)
            return self._connections[process]

    def _make(self, connections: Connections, claim: Claim) -> None:
        """Make, publish, finish; or say in the ledger why not."""
        heartbeat = Heartbeat(connections.ledger, claim, self._settings)
        ready = False
        try:
            with heartbeat:
                made = self._publish(connections, claim, heartbeat)
            ready = connections.ledger.finish(claim, made)
            if ready:
                _LOG.info("Pack %s is ready.", claim.pack.id)
            else:
                # Cancelled in the last moment, or the lease was lost: then this does nothing.
                connections.ledger.cancelled(claim)
        except Cancelled:
            _stopped(connections.ledger, claim, heartbeat)
        except LedgerUnavailable:
            raise
        except StorageFull as error:
            again = connections.ledger.wait_for_room(claim, error.detail)
            _LOG.warning("The disk ran full while %s was made; again: %s", claim.pack.id, again)
        except RicalcoError as error:
            connections.ledger.fail(claim, error.code, error.detail)
            _LOG.info("Pack %s failed: %s: %s", claim.pack.id, error.code, error.detail)
        except Exception:  # noqa: BLE001 - whatever it is, the row must not hang
            pause_s = PAUSE_S * claim.pack.attempt
            again = connections.ledger.retry(claim, _UNEXPECTED, pause_s=pause_s)
            _LOG.exception("Pack %s failed unexpectedly; again: %s", claim.pack.id, again)
        if not ready:
            _discard(connections, claim)

    def _publish(self, connections: Connections, claim: Claim, heartbeat: Heartbeat) -> Made:
        """Make the files and have them kept under this attempt's own key."""
        with connections.storage.workspace() as folder:
            request = PackRequest(
                pack=claim.pack,
                storage=connections.storage,
                folder=folder,
                heartbeat=heartbeat,
                threads=self._settings.threads,
            )
            made = self._maker(request)
            connections.storage.publish(folder, claim.files_key)
        return Made(number=made.number, files_key=claim.files_key, total=made.total)


def holder_name(worker: str) -> str:
    """Names this process of a worker in the ledger."""
    return f"{worker}/{process_name(os.getpid())}"


def dead_holders(worker: str, holders: set[str]) -> set[str]:
    """Those of a worker's own processes that were killed, say for want of memory."""
    mine = {holder for holder in holders if holder.startswith(f"{worker}/")}
    return {holder for holder in mine if not is_alive(holder.rpartition("/")[2])}


def _stopped(ledger: Ledger, claim: Claim, heartbeat: Heartbeat) -> None:
    """Write why the making stopped; a lost lease is not ours to write on."""
    if heartbeat.stop_reason is StopReason.CANCELLED:
        ledger.cancelled(claim)
    elif heartbeat.stop_reason is StopReason.TOO_SLOW:
        error = heartbeat.too_slow()
        ledger.fail(claim, error.code, error.detail)


def _discard(connections: Connections, claim: Claim) -> None:
    """Remove this attempt's files, unless the row names them after all."""
    if claim.files_key not in connections.ledger.live_attempts([claim.pack.id]):
        connections.storage.delete(claim.files_key)
