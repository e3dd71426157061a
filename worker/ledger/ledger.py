"""The ledger: every promise that outlives a process, behind one class.

Each method is one transaction. Two programs may call any of them at the same moment.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa

from worker.errors import LedgerUnavailable
from worker.ledger import claims, erasing, keys, packs, references, sweeping
from worker.ledger.batches import Batches
from worker.ledger.claims import Step
from worker.ledger.classes import Classes
from worker.ledger.database import Database
from worker.ledger.holdings import Holdings
from worker.ledger.people import People
from worker.ledger.printers import Printers
from worker.ledger.rows import (
    Beat,
    Claim,
    Ended,
    Fresh,
    Gauges,
    KeepAnswer,
    Made,
    NewPack,
    PackProgress,
    PackRow,
    ReferenceRow,
    Replay,
    SweepReport,
)
from worker.ledger.students import Students
from worker.ledger.tables import PACKS
from worker.settings import Settings


class Ledger:
    """References, packs and idempotency keys; shared by all threads of a process.

    Open one per process: connections do not survive a fork. Wherever an `owner_id` is
    asked for, a tutor's stands for their students as well.

    Attributes:
        people, classes, students, holdings: The same for tutors and their classes.
        printers: The same for printers that were measured.

    Raises:
        LedgerUnavailable: From any method: it cannot be reached or is locked.
        StorageFull: From any writing method.
    """

    def __init__(
        self,
        database: Database,
        *,
        clock: Callable[[], float] = time.time,
        lease_s: float = 30.0,
        attempts: int = 3,
    ) -> None:
        """Put a ledger over a database; `attempts` is how often a pack is tried."""
        self.lease_s = lease_s
        self.attempts = attempts
        self._database = database
        self._clock = clock
        self.people = People(database, clock)
        self.classes = Classes(database, clock)
        self.students = Students(database, clock)
        self.holdings = Holdings(database)
        self.batches = Batches(database, clock)
        self.printers = Printers(database, clock)

    @classmethod
    def open(
        cls,
        database_url: str,
        *,
        clock: Callable[[], float] = time.time,
        lease_s: float = 30.0,
        attempts: int = 3,
    ) -> Ledger:
        """Open the ledger at a SQLAlchemy URL."""
        return cls(Database(database_url), clock=clock, lease_s=lease_s, attempts=attempts)

    def migrate(self) -> None:
        """Bring the tables to the newest form; safe when several processes do it at once."""
        # Alembic takes a while to load and only a start needs it.
        from worker.ledger.migrate import migrate  # noqa: PLC0415

        migrate(self._database)

    def close(self) -> None:
        """Give all connections back."""
        self._database.close()

    def check(self) -> None:
        """Raise LedgerUnavailable unless the ledger answers and has its tables."""
        with self._database.reading() as connection:
            if not sa.inspect(connection).has_table(PACKS.name):
                raise LedgerUnavailable("The ledger has no tables yet: start the service.")

    # References.

    def add_reference(
        self, row: ReferenceRow, keep: KeepAnswer | None = None, *, most: int | None = None
    ) -> ReferenceRow:
        """Write a reference whose files are in storage; sets `created_at`.

        Raises:
            NotFound: Its owner, or what it was made from, was deleted meanwhile.
            LimitReached: Its owner has `most` already.
        """
        with self._database.writing() as connection:
            added = references.add(connection, row, self._clock(), most)
            self._keep(connection, keep, added)
            return added

    def reference(self, reference_id: str, owner_id: str) -> ReferenceRow:
        """Read a reference, or raise NotFound."""
        with self._database.reading() as connection:
            return references.get(connection, reference_id, owner_id)

    def own_reference(self, reference_id: str, owner_id: str) -> ReferenceRow:
        """Read a reference of one's own, not one that is lent, or raise NotFound."""
        with self._database.reading() as connection:
            return references.own(connection, reference_id, owner_id)

    def references_of(self, sha256: str, owner_id: str) -> list[ReferenceRow]:
        """The owner's references with these bytes, the newest first."""
        with self._database.reading() as connection:
            return references.of_bytes(connection, sha256, owner_id)

    def delete_reference(self, reference_id: str, owner_id: str) -> tuple[str, ...]:
        """Delete a reference and all made from it; returns keys of its files, or NotFound."""
        with self._database.writing() as connection:
            return references.delete(connection, reference_id, owner_id)

    def known_references(self, ids: list[str]) -> set[str]:
        """Which of these ids are in the ledger."""
        with self._database.reading() as connection:
            return references.known(connection, ids)

    # Packs, for their owner.

    def enqueue(self, new: NewPack, keep: KeepAnswer | None = None) -> PackRow:
        """Ask for a pack.

        Raises:
            NotFound: The reference is neither its owner's nor its lender's.
            LimitReached, TooManyUnfinished: It would go beyond its bounds.
        """
        with self._database.writing() as connection:
            row = packs.enqueue(connection, new, self._clock())
            self._keep(connection, keep, row)
            return row

    def pack(self, pack_id: str, owner_id: str) -> PackRow:
        """Read a pack, or raise NotFound."""
        with self._database.reading() as connection:
            return packs.get(connection, pack_id, owner_id)

    def progress(self, asked: dict[str, list[str]]) -> dict[tuple[str, str], PackProgress]:
        """How far packs are, by owner and id; `asked` has the ids that each owner follows.

        Packs that are not there, or another owner's, are left out.
        """
        with self._database.reading() as connection:
            return {
                (owner_id, row.id): row
                for owner_id, ids in asked.items()
                for row in packs.progress(connection, ids, owner_id)
            }

    def cancel_or_delete(self, pack_id: str, owner_id: str) -> Ended:
        """Cancel a pack under way, delete one that has ended, or raise NotFound."""
        with self._database.writing() as connection:
            return packs.cancel_or_delete(connection, pack_id, owner_id, self._clock())

    def mark_pack(
        self, pack_id: str, owner_id: str, marks: dict[packs.Mark, float | None]
    ) -> PackRow:
        """Write that a pack was printed or joined; raises NotFound, NotReady."""
        with self._database.writing() as connection:
            return packs.mark(connection, pack_id, owner_id, marks)

    def live_attempts(self, ids: list[str]) -> set[str]:
        """Keys of the files that these packs have, or that their makers may still publish."""
        with self._database.reading() as connection:
            return packs.live_attempts(connection, ids)

    # Packs, for their maker.

    def claim(self, worker: str) -> Claim | None:
        """Take the fairest pack that waits; `worker` names who holds it."""
        with self._database.writing() as connection:
            return claims.claim(connection, worker, self._clock(), self.lease_s)

    def heartbeat(self, claim: Claim, step: Step | None = None) -> Beat:
        """Renew the lease and write progress; says whether to go on."""
        with self._database.writing() as connection:
            return claims.beat(connection, claim, self._clock() + self.lease_s, step)

    def look(self, claim: Claim) -> Beat:
        """The same answer without writing anything."""
        with self._database.reading() as connection:
            return claims.look(connection, claim)

    def finish(self, claim: Claim, made: Made) -> bool:
        """The pack is ready. False: lost or cancelled, so throw the files away."""
        with self._database.writing() as connection:
            return claims.finish(connection, claim, made, self._clock())

    def fail(self, claim: Claim, code: str, detail: str) -> bool:
        """The pack failed for good. False: the lease was lost."""
        with self._database.writing() as connection:
            return claims.end(connection, claim, self._clock(), (code, detail))

    def cancelled(self, claim: Claim) -> bool:
        """The maker has stopped because it was asked to. False: the lease was lost."""
        with self._database.writing() as connection:
            return claims.end(connection, claim, self._clock(), None)

    def retry(self, claim: Claim, detail: str, *, pause_s: float = 0.0) -> bool:
        """Queue the pack again, or fail it with `detail` when this was the last attempt.

        Returns:
            True when it will be tried again.
        """
        with self._database.writing() as connection:
            now = self._clock()
            if claim.pack.attempt >= self.attempts:
                claims.end(connection, claim, now, (sweeping.GAVE_UP, detail))
                return False
            return claims.put_back(connection, claim, now + pause_s)

    # Order and upkeep.

    def sweep(self) -> SweepReport:
        """Requeue or give up packs whose lease ran out; forget old idempotency keys."""
        with self._database.writing() as connection:
            return sweeping.sweep(connection, self._clock(), self.attempts)

    def expire(self) -> tuple[str, ...]:
        """Delete what is kept no longer; returns keys of files to delete."""
        with self._database.writing() as connection:
            keys = erasing.expire(connection, self._clock())
        if keys:
            self._database.scrub()
        return keys

    def holders(self) -> set[str]:
        """The names under which packs are held now."""
        with self._database.reading() as connection:
            return sweeping.holders(connection)

    def release(self, dead: set[str]) -> SweepReport:
        """The same at once for packs of these holders, who are known dead."""
        with self._database.writing() as connection:
            return sweeping.release(connection, dead, self._clock(), self.attempts)

    def take_turn(self, name: str, holder: str, seconds: float) -> bool:
        """Take or keep the turn for what one process does at a time (`sweep`)."""
        with self._database.writing() as connection:
            return sweeping.take_turn(connection, name, holder, self._clock(), seconds)

    def waiting(self, longer_than_s: float = 0.0) -> int:
        """How many packs wait to be begun."""
        with self._database.reading() as connection:
            return sweeping.waiting(connection, self._clock(), longer_than_s)

    def gauges(self) -> Gauges:
        """Counts for the metrics page."""
        with self._database.reading() as connection:
            return sweeping.gauges(connection, self._clock())

    def data_version(self) -> int:
        """A number that differs whenever someone else has committed since the last call."""
        return self._database.changes()

    # Idempotency keys.

    def begin(self, owner_id: str, key: str, fingerprint: str) -> Fresh | Replay:
        """Hold a key, or replay its answer; raises KeyReused or KeyInProgress."""
        with self._database.writing() as connection:
            return keys.begin(connection, owner_id, key, fingerprint, self._clock())

    def complete(self, fresh: Fresh, status: int, body: str) -> None:
        """Leave the answer of a request that made something."""
        with self._database.writing() as connection:
            keys.complete(connection, fresh, status, body, self._clock())

    def abandon(self, fresh: Fresh) -> None:
        """The request made nothing: the key is free again."""
        with self._database.writing() as connection:
            keys.abandon(connection, fresh)

    def _keep(self, connection: sa.Connection, keep: KeepAnswer | None, row: Any) -> None:
        """Complete an idempotency key in the same transaction."""
        if keep is not None:
            status, body = keep.answer(row)
            keys.complete(connection, keep.fresh, status, body, self._clock())


def open_ledger(settings: Settings) -> Ledger:
    """The ledger that these settings name; not migrated yet."""
    return Ledger.open(
        settings.ledger_url, lease_s=settings.lease_seconds, attempts=settings.attempts
    )
