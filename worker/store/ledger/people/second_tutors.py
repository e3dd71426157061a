"""Second tutors of a class: they may do there what its own tutor may, with three exceptions.

A class stays its own tutor's: only they delete it, give it to course sites, and add or remove
tutors. A second tutor may leave. Photos, packs and printers that are nobody's but a second
tutor's own are theirs, as everybody's are.
"""

from __future__ import annotations

from collections.abc import Callable

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger import erasing
from worker.store.ledger.database.database import Database
from worker.store.ledger.people import classes
from worker.store.ledger.people.records import ClassRow, Person, TutorRow
from worker.store.ledger.records import new_id
from worker.store.ledger.tables import (
    ACCESS_KEYS,
    CLASS_TUTORS,
    CLASSES,
    EXTERNAL_IDS,
    OWNERS,
    REFERENCES,
)
from worker.store.ledger.visibility import owned_by

#: Most second tutors of one class.
MOST_TUTORS = 50
_GONE = "There is no such tutor."


class SecondTutors:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def of_class(self, class_id: str, who: str) -> tuple[TutorRow, ...]:
        """The tutors of a class in which `who` teaches, its own first, or raise NotFound."""
        with self._database.reading() as connection:
            row = classes.taught(connection, class_id, who)
            return (one(connection, row, row.tutor_id), *_added(connection, row))

    def remove(self, class_id: str, tutor_id: str) -> None:
        """Remove a second tutor from a class; the caller has checked who asks.

        One who has no key and no other class goes altogether, and what is theirs becomes the
        class's own tutor's.

        Raises:
            NotFound: They are no second tutor of this class.
        """

        def erase(connection: sa.Connection) -> None:
            row = classes.taught(connection, class_id, tutor_id)
            mine = sa.and_(CLASS_TUTORS.c.class_id == class_id, CLASS_TUTORS.c.owner_id == tutor_id)
            if connection.execute(sa.delete(CLASS_TUTORS).where(mine)).rowcount == 0:
                raise NotFound(_GONE)
            named = sa.and_(
                EXTERNAL_IDS.c.class_id == class_id,
                EXTERNAL_IDS.c.role == "tutor",
                EXTERNAL_IDS.c.person_id == tutor_id,
            )
            connection.execute(sa.delete(EXTERNAL_IDS).where(named))
            _take_picture_along(connection, class_id, tutor_id)
            erasing.drop_unreachable(connection, [tutor_id], row.tutor_id)

        self._database.delete_with_reserve(erase)


def _take_picture_along(connection: sa.Connection, class_id: str, tutor_id: str) -> None:
    """Leave a class without its picture where that is a photo of the tutor who goes."""
    theirs = sa.select(REFERENCES.c.id).where(owned_by(REFERENCES.c.owner_id, tutor_id))
    shown = sa.and_(CLASSES.c.id == class_id, CLASSES.c.picture_id.in_(theirs))
    connection.execute(sa.update(CLASSES).where(shown).values(picture_id=None, picture=None))


def make(connection: sa.Connection, name: str, now: float) -> str:
    """Insert a tutor without a key; returns the id."""
    person = Person(id=new_id("tut_"), role="tutor", name=name, created_at=now)
    connection.execute(sa.insert(OWNERS).values(**vars(person), virtual_time=0.0))
    return person.id


def known(connection: sa.Connection, tutor_id: str) -> str:
    """The id of a tutor who is here, or raise NotFound."""
    theirs = sa.select(OWNERS.c.id).where(OWNERS.c.id == tutor_id, OWNERS.c.role == "tutor")
    if connection.execute(theirs.with_for_update()).one_or_none() is None:
        raise NotFound(_GONE, field="tutor_id")
    return tutor_id


def rename_brought(connection: sa.Connection, tutor_id: str, name: str) -> None:
    """Rename a tutor who has no key of their own; the others name themselves."""
    keys = sa.select(ACCESS_KEYS.c.owner_id).where(ACCESS_KEYS.c.via_site.is_(None))
    brought = sa.and_(OWNERS.c.id == tutor_id, OWNERS.c.id.not_in(keys))
    connection.execute(sa.update(OWNERS).where(brought).values(name=name))


def add(connection: sa.Connection, row: ClassRow, tutor_id: str, now: float) -> None:
    """Let a tutor teach in a class, which is locked; nothing changes where they do already.

    Raises:
        LimitReached: It has `MOST_TUTORS` already.
    """
    added = {one.id for one in _added(connection, row)}
    if tutor_id in added | {row.tutor_id}:
        return
    if len(added) >= MOST_TUTORS:
        raise LimitReached(f"A class has room for {MOST_TUTORS} more tutors: remove one first.")
    values = {"class_id": row.id, "owner_id": tutor_id, "created_at": now}
    connection.execute(sa.insert(CLASS_TUTORS).values(**values))


def one(connection: sa.Connection, row: ClassRow, tutor_id: str) -> TutorRow:
    """A tutor as one of this class."""
    found = connection.execute(sa.select(OWNERS).where(OWNERS.c.id == tutor_id)).one()
    return TutorRow(
        id=tutor_id, name=found.name, owns=tutor_id == row.tutor_id, created_at=found.created_at
    )


def _added(connection: sa.Connection, row: ClassRow) -> tuple[TutorRow, ...]:
    """The second tutors of a class, in the order in which they were added; no course sites."""
    joined = (
        sa.select(OWNERS.c.id, OWNERS.c.name, OWNERS.c.created_at)
        .join(CLASS_TUTORS, CLASS_TUTORS.c.owner_id == OWNERS.c.id)
        .where(CLASS_TUTORS.c.class_id == row.id, OWNERS.c.role == "tutor")
        .order_by(CLASS_TUTORS.c.created_at, OWNERS.c.id)
    )
    rows = connection.execute(joined)
    return tuple(TutorRow(owns=False, **found._mapping) for found in rows)  # noqa: SLF001 - its documented name
