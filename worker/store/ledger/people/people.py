"""People: tutors, everybody's keys, and what each may see."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound, StorageFull, TutorExists
from worker.store.ledger import erasing
from worker.store.ledger.database.database import Database
from worker.store.ledger.disk.deletions import delete
from worker.store.ledger.keyset import Page
from worker.store.ledger.people import access_keys
from worker.store.ledger.people.access_keys import to_person
from worker.store.ledger.people.records import AccessKey, IssuedKey, Person
from worker.store.ledger.records import LOCAL_OWNER, new_id
from worker.store.ledger.tables import (
    ACCESS_KEYS,
    BATCHES,
    CLASSES,
    IDEMPOTENCY_KEYS,
    OWNERS,
    PACKS,
    PRINTERS,
    REFERENCES,
    SESSIONS,
    WEBHOOK_MESSAGES,
    WEBHOOKS,
)
from worker.store.ledger.visibility import (
    key_seen_by,
    owned_or_taught,
    pack_seen_by,
    reference_seen_by,
    shared_with,
    taught_batch,
    taught_or_attended,
    tutor_seen_by,
    webhook_seen_by,
)

#: Most keys of one person, so that a repeated request does not fill the disk.
MOST_KEYS = 50
_NOBODY = "There is no such person."


class People:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float], sign_in_s: float) -> None:
        """Use a database; `sign_in_s` is how long an unused sign-in lasts."""
        self._database = database
        self._clock = clock
        self._sign_in_s = sign_in_s

    def tutors(self) -> tuple[Person, ...]:
        """All tutors, oldest first."""
        tutors = sa.select(OWNERS).where(OWNERS.c.role == "tutor").order_by(OWNERS.c.created_at)
        with self._database.reading() as connection:
            return tuple(to_person(row) for row in connection.execute(tutors))

    def tutor_exists(self) -> bool:
        """Whether there is any; as long as there is none, `local` owns everything."""
        any_tutor = sa.select(OWNERS.c.id).where(OWNERS.c.role == "tutor").limit(1)
        with self._database.reading() as connection:
            return connection.execute(any_tutor).one_or_none() is not None

    def add_tutor(
        self, name: str, label: str = "", *, only_first: bool = False
    ) -> tuple[Person, IssuedKey]:
        """Insert a tutor with a key; the first becomes the owner of everything of `local`.

        Raises:
            TutorExists: `only_first`, and there is one.
        """
        now = self._clock()
        person = Person(id=new_id("tut_"), role="tutor", name=name, created_at=now)
        with self._database.writing() as connection:
            # `local` is locked, so that two requests cannot both make the first tutor.
            local = sa.select(OWNERS.c.id).where(OWNERS.c.id == LOCAL_OWNER).with_for_update()
            connection.execute(local).one()
            tutors = sa.select(sa.func.count()).where(OWNERS.c.role == "tutor")
            first = connection.execute(tutors).scalar_one() == 0
            if only_first and not first:
                raise TutorExists("There is a tutor already: ask with their key.")
            _add(connection, person)
            if first:
                _take_over(connection, person.id)
            return person, access_keys.issue(connection, person.id, label, now)

    def person(self, person_id: str) -> Person:
        """Read a person, or raise NotFound."""
        with self._database.reading() as connection:
            row = connection.execute(sa.select(OWNERS).where(OWNERS.c.id == person_id))
            found = row.one_or_none()
        if found is None:
            raise NotFound(_NOBODY)
        return to_person(found)

    def erase(self, person_id: str) -> tuple[str, ...]:
        """Delete a person and everything that they own; returns storage keys of files to delete."""
        return delete(
            self._database,
            lambda connection: erasing.erase(connection, person_id),
            lambda _: erasing.packs_of(erasing.people_under(person_id)),
        )

    # Keys.

    def opened_by(self, key: str) -> tuple[Person, AccessKey] | None:
        """The person of a key or sign-in, and the key; None: unknown, withdrawn or expired."""
        now = self._clock()
        with self._database.reading() as connection:
            found = access_keys.opened_by(connection, key, now)
        if found is None:
            return None
        person, access, stale = found
        if stale:
            # On a full disk this cannot be recorded, and people must still be able to delete.
            with suppress(StorageFull), self._database.writing() as connection:
                access_keys.note_use(connection, access, now, self._sign_in_s)
        return person, access

    def sign_in(self, key_id: str) -> IssuedKey:
        """Sign a browser in with a key, or raise NotFound."""
        # On a full disk too: whoever cannot sign in cannot delete.
        return self._database.write_with_reserve(
            lambda connection: access_keys.sign_in(
                connection, key_id, self._clock(), self._sign_in_s
            )
        )

    def sign_out(self, key: str) -> AccessKey | None:
        """Delete a browser's sign-in; None where there was none. The key stays valid."""
        return self._database.write_with_reserve(
            lambda connection: access_keys.sign_out(connection, key)
        )

    def issue_key(
        self,
        owner_id: str,
        label: str = "",
        *,
        replace: bool = False,
        via_site: str | None = None,
    ) -> IssuedKey:
        """Make a key for a person.

        Args:
            owner_id: Whose it is.
            label: What they know it by.
            replace: Withdraw their other keys.
            via_site: The learning platform's site whose launch asks; the key goes with it.

        Raises:
            NotFound: They were deleted.
            LimitReached: They have `MOST_KEYS` already.
        """
        now = self._clock()
        with self._database.writing() as connection:
            if replace:
                access_keys.withdraw(connection, owner_id, now)
            held = access_keys.of(connection, owner_id, now)
            if sum(not one.is_sign_in for one in held) >= MOST_KEYS:
                raise LimitReached(f"You have {MOST_KEYS} keys: withdraw one first.")
            return access_keys.issue(connection, owner_id, label, now, via_site)

    def keys(self, owner_id: str, page: Page | None = None) -> tuple[AccessKey, ...]:
        """A person's valid keys and sign-ins, oldest first."""
        with self._database.reading() as connection:
            return access_keys.of(connection, owner_id, self._clock(), page)

    def withdraw_key(self, owner_id: str, key_id: str | None = None) -> None:
        """Withdraw one of a person's keys or sign-ins (or raise NotFound), or all."""
        now = self._clock()
        self._database.write_with_reserve(
            lambda connection: access_keys.withdraw(connection, owner_id, now, key_id)
        )

    # What each may see.

    def sees(self, who: str, kind: str, id_: str) -> bool:
        """Whether a person may know that a row exists.

        Args:
            who: `Person.acting_id`.
            kind: The name of the id in paths, such as `pack_id`.
            id_: The id of the row.
        """
        with self._database.reading() as connection:
            return connection.execute(_seen(who, kind, id_).limit(1)).one_or_none() is not None


def _seen(who: str, kind: str, id_: str) -> sa.Select[tuple[str]]:
    """Select the row if `who` may see it."""
    table = _TABLES[kind]
    return sa.select(table.c.id).where(table.c.id == id_, _CONDITIONS[kind](id_, who))


#: By name of the id in paths. Functions, so that only the needed condition is built: this is
#: checked in every request.
_CONDITIONS: dict[str, Callable[[str, str], sa.ColumnElement[bool]]] = {
    "reference_id": lambda _, who: reference_seen_by(who),
    "pack_id": lambda _, who: pack_seen_by(who),
    "class_id": lambda _, who: taught_or_attended(CLASSES.c.id, who),
    "student_id": lambda _, who: owned_or_taught(OWNERS.c.id, who) & (OWNERS.c.role == "student"),
    "site_id": lambda _, who: OWNERS.c.tutor_id == who,
    "batch_id": taught_batch,
    "tutor_id": lambda _, who: tutor_seen_by(who),
    "session_id": lambda _, who: SESSIONS.c.site_id == who,
    "key_id": lambda _, who: key_seen_by(who),
    "webhook_id": lambda _, who: webhook_seen_by(who),
    "message_id": lambda _, who: WEBHOOK_MESSAGES.c.webhook_id.in_(
        sa.select(WEBHOOKS.c.id).where(webhook_seen_by(who))
    ),
    "printer_id": lambda _, who: (
        owned_or_taught(PRINTERS.c.owner_id, who) | shared_with(PRINTERS.c.class_id, who)
    ),
}
_TABLES = {
    "reference_id": REFERENCES,
    "pack_id": PACKS,
    "class_id": CLASSES,
    "student_id": OWNERS,
    "site_id": OWNERS,
    "tutor_id": OWNERS,
    "session_id": SESSIONS,
    "batch_id": BATCHES,
    "key_id": ACCESS_KEYS,
    "printer_id": PRINTERS,
    "webhook_id": WEBHOOKS,
    "message_id": WEBHOOK_MESSAGES,
}


def _add(connection: sa.Connection, person: Person) -> None:
    connection.execute(sa.insert(OWNERS).values(**vars(person), virtual_time=0.0))


def _take_over(connection: sa.Connection, tutor_id: str) -> None:
    """Make a tutor the owner of everything of `local`."""
    for table in (REFERENCES, PACKS, PRINTERS, IDEMPOTENCY_KEYS):
        theirs = sa.update(table).where(table.c.owner_id == LOCAL_OWNER)
        connection.execute(theirs.values(owner_id=tutor_id))
    place = sa.select(OWNERS.c.virtual_time).where(OWNERS.c.id == LOCAL_OWNER).scalar_subquery()
    connection.execute(sa.update(OWNERS).where(OWNERS.c.id == tutor_id).values(virtual_time=place))
