"""Links that give a student's device a new key: each works once, for a few minutes.

A row has the SHA-256 of the link's secret, so that a copy of the ledger opens nothing. A student
has one link at most: a new one withdraws the one before. It goes with the student, with whoever
made it, and with the key that they asked with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger.database.database import Database
from worker.store.ledger.people import access_keys
from worker.store.ledger.people.credentials import key_hash, new_key_link
from worker.store.ledger.people.records import IssuedKey, Person
from worker.store.ledger.records import LOCAL_OWNER
from worker.store.ledger.tables import ACCESS_KEYS, KEY_LINKS, OWNERS

#: How long a link can be used, in seconds (our choice: a student stands beside the tutor).
KEY_LINK_S = 15 * 60.0
_GONE = (
    "This link opens nothing: it works once and for some minutes, and a newer one replaces it. "
    "Ask your tutor for another."
)


@dataclass(frozen=True, kw_only=True)
class KeyLink:
    """A new link with its secret, which cannot be read later."""

    secret: str
    ends_at: float


class KeyLinks:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(self, student_id: str, *, made_by: str, key_id: str | None) -> KeyLink:
        """Insert a link for a student and withdraw the one before; the caller has checked both.

        Args:
            student_id: Whose device it is for.
            made_by: The tutor or course site who asks.
            key_id: The key that they ask with; None: this machine's user, who has none.

        Raises:
            NotFound: The student was deleted meanwhile.
        """
        link = KeyLink(secret=new_key_link(), ends_at=self._clock() + KEY_LINK_S)
        values = {"student_id": student_id, "made_by": made_by, "key_id": key_id}
        with self._database.writing() as connection:
            there = sa.select(OWNERS.c.id).where(OWNERS.c.id == student_id).with_for_update()
            if connection.execute(there).one_or_none() is None:
                raise NotFound("There is no such student.")
            connection.execute(sa.delete(KEY_LINKS).where(KEY_LINKS.c.student_id == student_id))
            row = {**values, "hash": key_hash(link.secret), "ends_at": link.ends_at}
            connection.execute(sa.insert(KEY_LINKS).values(**row))
        return link

    def use(self, secret: str, label: str = "") -> tuple[Person, IssuedKey]:
        """Exchange a link for a key; the student's other keys open nothing any more.

        Raises:
            NotFound: It was used, withdrawn or replaced, its time is over, or there is none.
        """
        now = self._clock()
        with self._database.writing() as connection:
            gone = sa.delete(KEY_LINKS).where(KEY_LINKS.c.hash == key_hash(secret), _live(now))
            used = connection.execute(gone.returning(KEY_LINKS.c.student_id)).one_or_none()
            person = (
                used
                and connection.execute(
                    sa.select(OWNERS).where(
                        OWNERS.c.id == used.student_id, OWNERS.c.withdrawn_at.is_(None)
                    )
                ).one_or_none()
            )
            if not person:
                raise NotFound(_GONE, field="secret")
            access_keys.withdraw(connection, person.id, now)
            return access_keys.to_person(person), access_keys.issue(
                connection, person.id, label, now
            )


def forget_ended(connection: sa.Connection, now: float) -> None:
    """Delete the links whose time is over."""
    connection.execute(sa.delete(KEY_LINKS).where(KEY_LINKS.c.ends_at <= now))


def _live(now: float) -> sa.ColumnElement[bool]:
    """Condition: its time is not over, and the key that it was asked for with still opens."""
    keys = sa.select(ACCESS_KEYS.c.id).where(access_keys.opens(now))
    keyed = sa.or_(KEY_LINKS.c.key_id.in_(keys), KEY_LINKS.c.made_by == LOCAL_OWNER)
    return sa.and_(KEY_LINKS.c.ends_at > now, keyed)
