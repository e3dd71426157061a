"""The class `Ledger`, through which all other modules use the database.

Each method is one transaction. Several programs may call any of them at the same time.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable
from typing import Any

import sqlalchemy as sa

from worker.errors import ClockDiffers, LedgerOutdated, LedgerUnavailable, StorageFull
from worker.settings import Settings
from worker.store.ledger import erasing, idempotency
from worker.store.ledger.database.database import Database
from worker.store.ledger.deleted_ids import DeletedIds
from worker.store.ledger.disk.deletions import delete
from worker.store.ledger.disk.driver_errors import ledger_damaged
from worker.store.ledger.disk.integrity import find_damage
from worker.store.ledger.keyset import Page
from worker.store.ledger.lti.launches import Launches
from worker.store.ledger.lti.platforms import Platforms
from worker.store.ledger.lti.results import Results
from worker.store.ledger.migrations.missing_steps import lacks_steps
from worker.store.ledger.packs import claims, packs, queue_limit, references, upkeep
from worker.store.ledger.packs.batches import Batches
from worker.store.ledger.packs.claims import Step
from worker.store.ledger.packs.links import Links, forget_ended
from worker.store.ledger.packs.printers import Printers
from worker.store.ledger.packs.workers import Workers
from worker.store.ledger.people import access_keys, key_links
from worker.store.ledger.people.classes import Classes
from worker.store.ledger.people.holdings import Holdings
from worker.store.ledger.people.key_links import KeyLinks
from worker.store.ledger.people.people import People
from worker.store.ledger.people.records import DAY_S, SIGN_IN_DAYS
from worker.store.ledger.people.second_tutors import SecondTutors
from worker.store.ledger.people.students import Students
from worker.store.ledger.records import (
    Claim,
    EndedPack,
    FreedPacks,
    Gauges,
    HeartbeatReply,
    HeldKey,
    IdempotentAnswer,
    NewPack,
    PackProgress,
    PackResult,
    PackRow,
    ReferenceRow,
    Replay,
)
from worker.store.ledger.sites import log as site_log
from worker.store.ledger.sites import sessions
from worker.store.ledger.sites.external_ids import ExternalIds
from worker.store.ledger.sites.log import SiteLog
from worker.store.ledger.sites.sessions import Sessions
from worker.store.ledger.sites.sites import Sites
from worker.store.ledger.tables import PACKS
from worker.store.ledger.webhooks import deliveries
from worker.store.ledger.webhooks.deliveries import Deliveries
from worker.store.ledger.webhooks.webhooks import Webhooks

#: Sessions and links end by the web's clock, leases by the ledger's. Ten seconds are far more than
#: NTP leaves, and a small part of what either lasts.
MOST_DIFFERENCE_S = 10.0


class Ledger:
    """References, packs and idempotency keys; shared by all threads of a process.

    Open one per process: connections cannot be used after a fork. Where a method takes an
    `owner_id`, a tutor's id gives access to what their students own as well.

    Attributes:
        people: Tutors, and everybody's keys.
        classes, students, second_tutors: Classes, their rosters, and who else teaches there.
        sites, sessions, site_log: Course sites, their sessions for students, and what they did.
        external_ids: People by the ids that sites have for them.
        holdings: What each person has, for a class's board and for export.
        batches: Packs that were asked for together for a class.
        deleted_ids: What was deleted, for ledgers that are put back from a copy.
        printers: Measured printers.
        workers: Workers that were seen lately.
        links: Links to one file, for some minutes.
        key_links: Links that give a student's device a new key, once.
        webhooks, deliveries: Addresses that are told what happens, and what they are sent.
        platforms, launches, results: Learning platforms, who comes from them, and what their
            gradebooks are to be told.

    Raises:
        LedgerUnavailable: From any method: it cannot be reached or is locked.
        StorageFull: From any writing method.
    """

    def __init__(
        self,
        database: Database,
        *,
        clock: Callable[[], float] | None = None,
        lease_s: float = 30.0,
        attempts: int = 3,
        sign_in_s: float = SIGN_IN_DAYS * DAY_S,
    ) -> None:
        """Use a database as a ledger.

        Args:
            database: Its clock decides which leases have run out, since machines' clocks differ.
            clock: Used in its place; returns seconds since 1970.
            lease_s: How long a process holds a pack without a heartbeat.
            attempts: How often a pack is tried.
            sign_in_s: After how long a browser that is not used is signed out.
        """
        self.lease_s = lease_s
        self.attempts = attempts
        self._database = database
        self._clock = clock
        clock = clock or database.time
        self.people = People(database, clock, sign_in_s)
        self.classes = Classes(database, clock)
        self.students = Students(database, clock)
        self.second_tutors = SecondTutors(database, clock)
        self.sites = Sites(database, clock)
        self.sessions = Sessions(database, clock)
        self.site_log = SiteLog(database, clock)
        self.external_ids = ExternalIds(database, clock)
        self.holdings = Holdings(database)
        self.deleted_ids = DeletedIds(database, erasing.erase_again)
        self.batches = Batches(database, clock)
        self.printers = Printers(database, clock)
        self.workers = Workers(database, self._now)
        self.links = Links(database, clock)
        self.key_links = KeyLinks(database, clock)
        self.webhooks = Webhooks(database, clock)
        self.deliveries = Deliveries(database, clock)
        self.platforms = Platforms(database, clock, self.sites)
        self.launches = Launches(database, clock)
        self.results = Results(database, clock)

    @classmethod
    def open(
        cls,
        database_url: str,
        *,
        clock: Callable[[], float] | None = None,
        lease_s: float = 30.0,
        attempts: int = 3,
        sign_in_s: float = SIGN_IN_DAYS * DAY_S,
    ) -> Ledger:
        """Open the ledger at a SQLAlchemy URL."""
        return cls(
            Database(database_url),
            clock=clock,
            lease_s=lease_s,
            attempts=attempts,
            sign_in_s=sign_in_s,
        )

    def time(self) -> float:
        """Seconds since 1970 by the ledger's clock, which decides on all machines that share it."""
        return self._database.time() if self._clock is None else self._clock()

    def migrate(self) -> None:
        """Run missing migrations; several processes may do so at the same time."""
        # Alembic takes long to load, and only the start of a process needs it.
        from worker.store.ledger.migrations.migrate import migrate  # noqa: PLC0415

        self._database.retry_with_reserve(lambda: migrate(self._database))

    def close(self) -> None:
        """Close all connections."""
        self._database.close()

    def check(self) -> None:
        """Raise LedgerUnavailable unless the ledger answers and has its tables."""
        with self._database.reading() as connection:
            if not sa.inspect(connection).has_table(PACKS.name):
                raise LedgerUnavailable("The ledger has no tables yet: start the service.")

    def check_step(self) -> None:
        """Raise LedgerOutdated where migrations of this version are missing."""
        with self._database.reading() as connection:
            if lacks_steps(connection):
                message = "The ledger is of an older version: restart the service to update it."
                raise LedgerOutdated(message)

    def check_clock(self) -> None:
        """Raise ClockDiffers where this machine's clock and the ledger's differ."""
        difference_s = self.clock_difference_s()
        if abs(difference_s) > MOST_DIFFERENCE_S:
            message = (
                f"This machine's clock is {abs(difference_s):.0f} s "
                f"{'behind' if difference_s > 0 else 'ahead of'} the ledger's: set both by NTP."
            )
            raise ClockDiffers(message)

    def clock_difference_s(self) -> float:
        """By how much the ledger's clock is ahead of this machine's."""
        with self._database.reading() as connection:
            began = time.time()
            there = self._now(connection)
            return there - (began + time.time()) / 2

    def check_content(self, *, whole: bool = False) -> None:
        """Check whether the content is consistent.

        Args:
            whole: Check a ledger of any size, and its indexes as well.

        Raises:
            LedgerDamaged: It is not; the error says how to repair it.
        """
        file = self._database.file
        if file is not None and (found := find_damage(file, whole=whole)):
            raise ledger_damaged(file, found)

    # References.

    def add_reference(
        self,
        row: ReferenceRow,
        idempotent: IdempotentAnswer | None = None,
        *,
        most: int | None = None,
    ) -> ReferenceRow:
        """Insert a reference whose files are in storage; sets `created_at`.

        Raises:
            NotFound: Its owner, or what it was made from, was deleted meanwhile.
            LimitReached: Its owner has `most` already.
        """
        with self._database.writing() as connection:
            added = references.add(connection, row, self._now(connection), most)
            self._complete(connection, idempotent, added)
            return added

    def reference(self, reference_id: str, owner_id: str) -> ReferenceRow:
        """Read a reference, or raise NotFound."""
        with self._database.reading() as connection:
            return references.get(connection, reference_id, owner_id)

    def own_reference(self, reference_id: str, owner_id: str) -> ReferenceRow:
        """Read a reference that belongs to this owner and is not only lent, or raise NotFound."""
        with self._database.reading() as connection:
            return references.own(connection, reference_id, owner_id)

    def reference_for_pack(
        self, reference_id: str, *, asker_id: str, owner_id: str
    ) -> ReferenceRow:
        """Read a reference if the asker may have a pack for the owner made from it.

        Raises:
            NotFound: It is not there, or another student's.
        """
        with self._database.reading() as connection:
            return references.for_pack(
                connection, reference_id, asker_id=asker_id, owner_id=owner_id
            )

    def references_of(
        self, sha256: str, owner_id: str, page: Page | None = None
    ) -> list[ReferenceRow]:
        """The owner's references with these bytes, the newest first."""
        with self._database.reading() as connection:
            return references.of_bytes(connection, sha256, owner_id, page)

    def delete_reference(
        self, reference_id: str, owner_id: str, *, if_unused: bool = False
    ) -> tuple[str, ...]:
        """Delete a reference and all made from it, or raise NotFound; returns storage keys.

        `if_unused` deletes only one from which nothing is made.
        """
        if if_unused:
            return self._database.delete_with_reserve(
                lambda connection: references.delete_unused(connection, reference_id, owner_id)
            )
        return delete(
            self._database,
            lambda connection: references.delete(connection, reference_id, owner_id),
            lambda connection: references.made_from(connection, reference_id, owner_id),
        )

    def known_references(self, ids: list[str]) -> set[str]:
        """Which of these ids are in the ledger."""
        with self._database.reading() as connection:
            return references.known(connection, ids)

    # Packs, for their owner.

    def enqueue(self, new: NewPack, idempotent: IdempotentAnswer | None = None) -> PackRow:
        """Ask for a pack.

        Raises:
            NotFound: The pack's owner and payer may not use this reference.
            LimitReached, TooManyUnfinished: It would exceed the pack's bounds.
        """
        with self._database.writing() as connection:
            row = packs.enqueue(connection, new, self._now(connection))
            self._complete(connection, idempotent, row)
            return row

    def pack(self, pack_id: str, owner_id: str) -> PackRow:
        """Read a pack, or raise NotFound."""
        with self._database.reading() as connection:
            return packs.get(connection, pack_id, owner_id)

    def progress(self, asked: dict[str, list[str]]) -> dict[tuple[str, str], PackProgress]:
        """Progress of packs, by owner and id; `asked` has the ids that each owner follows.

        Packs that do not exist, or belong to another owner, are left out.
        """
        with self._database.reading() as connection:
            return {
                (owner_id, row.id): row
                for owner_id, ids in asked.items()
                for row in packs.progress(connection, ids, owner_id)
            }

    def cancel_or_delete(
        self, pack_id: str, owner_id: str, *, with_photo: bool = False
    ) -> EndedPack:
        """Cancel a pack under way, delete one that has ended, or raise NotFound.

        `with_photo` deletes its photo with it, if nothing else is made from that.
        """
        return self._database.delete_with_reserve(
            lambda connection: packs.cancel_or_delete(
                connection, pack_id, owner_id, self._now(connection), with_photo=with_photo
            )
        )

    def mark_pack(
        self, pack_id: str, owner_id: str, marks: dict[packs.Mark, float | None]
    ) -> PackRow:
        """Write that a pack was printed or joined; raises NotFound, NotReady."""
        with self._database.writing() as connection:
            return packs.mark(connection, pack_id, owner_id, marks)

    def live_attempts(self, ids: list[str]) -> set[str]:
        """Storage keys that these packs have, or that an attempt under way may publish."""
        with self._database.reading() as connection:
            return packs.live_attempts(connection, ids)

    # Packs, for the process that makes them.

    def claim(self, worker: str) -> Claim | None:
        """Claim the waiting pack that is next in the fair order; `worker` will hold its lease."""
        with self._database.writing() as connection:
            return claims.claim(connection, worker, self._now(connection), self.lease_s)

    def heartbeat(self, claim: Claim, step: Step | None = None) -> HeartbeatReply:
        """Renew the lease and write the progress; returns whether to go on."""
        return self._database.write_with_reserve(
            lambda connection: claims.renew_lease(
                connection, claim, self._now(connection) + self.lease_s, step
            )
        )

    def check_lease(self, claim: Claim) -> HeartbeatReply:
        """The same reply without writing anything."""
        with self._database.reading() as connection:
            return claims.check_lease(connection, claim)

    def finish(self, claim: Claim, made: PackResult) -> bool:
        """The pack is ready. False: lost or cancelled, so the caller deletes its files."""
        return self._database.write_with_reserve(
            lambda connection: claims.finish(connection, claim, made, self._now(connection))
        )

    def fail(self, claim: Claim, code: str, detail: str) -> bool:
        """The pack failed for good. False: the lease was lost."""
        return self._database.write_with_reserve(
            lambda connection: claims.end(connection, claim, self._now(connection), (code, detail))
        )

    def cancelled(self, claim: Claim) -> bool:
        """Making the pack has stopped because it was cancelled. False: the lease was lost."""
        return self._database.write_with_reserve(
            lambda connection: claims.end(connection, claim, self._now(connection), None)
        )

    def retry(self, claim: Claim, detail: str, *, pause_s: float = 0.0) -> bool:
        """Queue the pack again, or fail it with `detail` when this was the last attempt.

        Returns:
            True when it will be tried again.
        """
        with self._database.writing() as connection:
            now = self._now(connection)
            if claims.end_if_cancelled(connection, claim, now):
                return False
            if claim.pack.attempt >= self.attempts:
                claims.end(connection, claim, now, (upkeep.GAVE_UP, detail))
                return False
            return claims.put_back(connection, claim, now + pause_s)

    def hand_back(self, claim: Claim) -> bool:
        """Queue the pack again, since this worker ends; no attempt is counted.

        Returns:
            False where it was cancelled meanwhile, or the lease was lost.
        """
        with self._database.writing() as connection:
            return claims.hand_back(connection, claim, self._now(connection))

    def leave_to_newer(self, claim: Claim, error: tuple[str, str]) -> bool:
        """Queue a pack again that a newer version planned; after an hour it fails with the error.

        Returns:
            True when a newer worker can still take it.
        """
        with self._database.writing() as connection:
            return claims.leave_to_newer(connection, claim, self._now(connection), error)

    def wait_for_room(self, claim: Claim, detail: str, code: str = StorageFull.code) -> bool:
        """The disk ran full, or storage was away, while the pack was made: queue it again.

        No attempt is counted.

        Returns:
            True when it will be tried again. False when that happened so often that it failed
            with `code` and `detail`, or the lease was lost.
        """
        return self._database.write_with_reserve(
            lambda connection: claims.wait_for_room(
                connection, claim, self._now(connection), (code, detail)
            )
        )

    def files_missing(self, pack_id: str, files_key: str) -> bool:
        """The files of a ready pack are missing: it failed. False: not its files any more."""
        with self._database.writing() as connection:
            return packs.files_missing(connection, pack_id, files_key, self._now(connection))

    def made_after(self, pack_id: str, count: int) -> tuple[tuple[str, str], ...]:
        """Ids and storage keys of the next packs with files after this id, in order of ids."""
        with self._database.reading() as connection:
            return packs.made_after(connection, pack_id, count)

    # Fair order and upkeep.

    def lapsed_leases(self) -> frozenset[str]:
        """Tokens of leases that ran out: the processes that held them died, or slept."""
        with self._database.reading() as connection:
            return upkeep.lapsed_leases(connection, self._now(connection))

    def free_lapsed(self, tokens: Collection[str] | None = None) -> FreedPacks:
        """Requeue or give up packs whose lease ran out; with `tokens` only these."""
        return self._database.write_with_reserve(
            lambda connection: upkeep.free_lapsed(
                connection, self._now(connection), self.attempts, tokens
            )
        )

    def forget_expired_keys(self) -> int:
        """Delete expired sign-ins, sessions, links, idempotency keys, and old lines of logs.

        Returns:
            How many idempotency keys.
        """
        with self._database.writing() as connection:
            forget_ended(connection, self._now(connection))
            access_keys.forget_ended(connection, self._now(connection))
            sessions.forget_ended(connection, self._now(connection))
            key_links.forget_ended(connection, self._now(connection))
            site_log.forget_old(connection, self._now(connection))
            deliveries.forget_old(connection, self._now(connection))
            return idempotency.forget(connection, self._now(connection))

    def expire(self) -> tuple[str, ...]:
        """Delete what has expired; returns storage keys of files to delete."""
        with self._database.reading() as connection:
            now = self._now(connection)
            if not erasing.anything_expired(connection, now):
                return ()
        return delete(
            self._database,
            lambda connection: erasing.expire(connection, now),
            lambda _: erasing.expired_packs(now),
        )

    def scrub(self) -> bool:
        """Remove deleted data from the ledger's log, if due; False: it could not be done."""
        return self._database.scrub()

    def fill_reserve(self) -> None:
        """Reserve the room that deleting needs on a full disk, or raise StorageFull."""
        if self._database.reserve is not None:
            self._database.reserve.fill()

    def note_room(self, *, there: bool) -> int:
        """Write into the packs that wait whether they wait for room; returns how many changed."""
        with self._database.reading() as connection:
            if not upkeep.room_note_outdated(connection, there=there):
                return 0
        with self._database.writing() as connection:
            return upkeep.note_room(connection, there=there)

    def lease_holders(self) -> set[str]:
        """The holders of all leases now."""
        with self._database.reading() as connection:
            return upkeep.lease_holders(connection)

    def free_held_by(self, dead: set[str]) -> FreedPacks:
        """The same at once for the packs of these holders, which are known to have died."""
        return self._database.write_with_reserve(
            lambda connection: upkeep.free_held_by(
                connection, dead, self._now(connection), self.attempts
            )
        )

    def take_turn(self, name: str, holder: str, seconds: float) -> bool:
        """Take or keep the turn for a job that one process does at a time (`sweep`)."""
        with self._database.writing() as connection:
            return upkeep.take_turn(connection, name, holder, self._now(connection), seconds)

    def waiting(self, longer_than_s: float = 0.0, *, most: int | None = None) -> int:
        """How many packs wait to be begun; `most` ends the count, which a long queue makes dear."""
        with self._database.reading() as connection:
            return upkeep.waiting(connection, self._now(connection), longer_than_s, most)

    def stalled_s(self) -> float:
        """For how long packs have waited while nobody made any, in s; 0 where none waits."""
        with self._database.reading() as connection:
            return upkeep.stalled_s(connection, self._now(connection))

    def refuses_packs(self, setting: int, places: int, payer_id: str, *, one: bool) -> bool:
        """Whether too many packs wait for more of this person's to be taken.

        Args:
            setting: RICALCO_MAX_QUEUED; 0: by the places.
            places: How many packs this machine's own worker makes side by side; workers that
                say so themselves are added.
            payer_id: To whose place in the fair order they are charged.
            one: Whether one pack is asked for, and no batch.
        """
        with self._database.reading() as connection:
            # Mostly so few wait that nothing else need be known.
            least = setting or queue_limit.LEAST
            if queue_limit.waiting(connection, least) < least:
                return False
        limit = self.queue_limit(setting, places)
        with self._database.reading() as connection:
            return queue_limit.refuses(connection, limit, payer_id, one=one)

    def queue_limit(self, setting: int, places: int) -> int:
        """From how many waiting packs on others are refused; the arguments are the same."""
        elsewhere = () if setting else self.workers.lately()
        return queue_limit.limit_of(setting, places + sum(one.places for one in elsewhere))

    def gauges(self) -> Gauges:
        """Counts for the metrics page."""
        with self._database.reading() as connection:
            return upkeep.gauges(connection, self._now(connection))

    def data_version(self) -> int:
        """A number that changes whenever another connection has committed since the last call."""
        return self._database.changes()

    # Idempotency keys.

    def begin(self, owner_id: str, key: str, fingerprint: str) -> HeldKey | Replay:
        """Hold a key, or return its answer; raises KeyReused or KeyInProgress."""
        with self._database.writing() as connection:
            return idempotency.begin(connection, owner_id, key, fingerprint, self._now(connection))

    def renew(self, held: Iterable[HeldKey]) -> None:
        """Renew the leases of requests that are under way."""
        with self._database.writing() as connection:
            idempotency.renew(connection, held, self._now(connection))

    def complete(self, held_key: HeldKey, status: int, body: str) -> None:
        """Store the answer of a request; raises KeyInProgress when the key was taken over."""
        with self._database.writing() as connection:
            idempotency.complete(connection, held_key, status, body, self._now(connection))

    def abandon(self, held_key: HeldKey) -> None:
        """Free the key of a request that had no effect."""
        with self._database.writing() as connection:
            idempotency.abandon(connection, held_key)

    def _now(self, connection: sa.Connection) -> float:
        return self._database.now(connection) if self._clock is None else self._clock()

    def _complete(
        self, connection: sa.Connection, idempotent: IdempotentAnswer | None, row: Any
    ) -> None:
        """Complete an idempotency key in the same transaction."""
        if idempotent is not None:
            status, body = idempotent.answer(row)
            idempotency.complete(
                connection, idempotent.held_key, status, body, self._now(connection)
            )


def open_ledger(settings: Settings) -> Ledger:
    """The ledger of these settings; it is not migrated yet."""
    return Ledger(
        Database(settings.ledger_url, settings.ledger_connections),
        lease_s=settings.lease_seconds,
        attempts=settings.attempts,
        sign_in_s=settings.sign_in_days * DAY_S,
    )
