"""Sessions: a student works in a page of a course site, for minutes and without a key.

A token opens only while everything that it stands on is there: the student, their class among
those of the site, the site, its key, its time, and the origin among those that it names. So
withdrawing any of them ends the session at once, and nothing has to be cleaned up for that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger.database.database import Database
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people.access_keys import LIVE, to_person
from worker.store.ledger.people.credentials import key_hash, new_token
from worker.store.ledger.people.records import Person
from worker.store.ledger.records import new_id
from worker.store.ledger.sites.records import SESSION_S, IssuedSession, Scope, SessionRow
from worker.store.ledger.tables import ACCESS_KEYS, CLASS_TUTORS, LINKS, OWNERS, SESSIONS, SITES

#: Most sessions of a student in one site. Beyond that the oldest end, so that a site that starts
#: one with every click fills no disk.
MOST_EACH = 10
_COLUMNS = tuple(SESSIONS.c[name] for name in SessionRow.__annotations__)


@dataclass(frozen=True, kw_only=True)
class NewSession:
    """A session that a course site wants to start."""

    site_id: str
    key_id: str
    student_id: str
    origin: str
    scopes: tuple[Scope, ...]


class Sessions:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def start(self, new: NewSession) -> IssuedSession:
        """Start a session; the caller has checked origin and scopes.

        Raises:
            NotFound: The student is in none of the site's classes, or was withdrawn.
        """
        now, token = self._clock(), new_token()
        row = SessionRow(id=new_id("ses_"), created_at=now, ends_at=now + SESSION_S, **vars(new))
        with self._database.writing() as connection:
            lock_owner(connection, new.site_id)
            if connection.execute(_on_roster(new.student_id, new.site_id)).one_or_none() is None:
                raise NotFound("There is no such student.", field="student_id")
            _end_oldest(connection, new)
            values = {**vars(row), "scopes": list(row.scopes), "hash": key_hash(token)}
            connection.execute(sa.insert(SESSIONS).values(**values))
        return IssuedSession(token=token, session=row)

    def opened_by(self, token: str) -> tuple[Person, SessionRow] | None:
        """The student of a token and their session, with the scopes that the site still has.

        None: it was never a token, or something that it stands on has gone.
        """
        now = self._clock()
        mine = sa.and_(SESSIONS.c.hash == key_hash(token), SESSIONS.c.ends_at > now)
        return self._standing(mine, now)

    def standing(self, session_id: str) -> SessionRow | None:
        """A session of which everything that it stands on is there, whether its time is over.

        With the scopes that the site still has. None: there is no such session.
        """
        found = self._standing(SESSIONS.c.id == session_id, self._clock())
        return None if found is None else found[1]

    def _standing(
        self, which: sa.ColumnElement[bool], now: float
    ) -> tuple[Person, SessionRow] | None:
        columns = [column.label(f"session_{column.name}") for column in _COLUMNS]
        found = (
            sa.select(OWNERS, SITES.c.scopes, SITES.c.origins, *columns)
            .select_from(SESSIONS)
            .join(OWNERS, OWNERS.c.id == SESSIONS.c.student_id)
            .join(SITES, SITES.c.id == SESSIONS.c.site_id)
            .join(ACCESS_KEYS, ACCESS_KEYS.c.id == SESSIONS.c.key_id)
            .join(
                CLASS_TUTORS,
                sa.and_(
                    CLASS_TUTORS.c.owner_id == SESSIONS.c.site_id,
                    CLASS_TUTORS.c.class_id == OWNERS.c.class_id,
                ),
            )
            .where(which, LIVE, SITES.c.expires_at > now, OWNERS.c.withdrawn_at.is_(None))
        )
        with self._database.reading() as connection:
            row = connection.execute(found).one_or_none()
        # Without an origin it is for our own page alone.
        if row is None or row.session_origin not in {"", *row.origins}:
            return None
        return to_person(row), _to_session(row)

    def of_site(self, session_id: str, site_id: str) -> SessionRow:
        """A session that a site has started and that has not ended, or raise NotFound."""
        live = sa.and_(_mine(session_id, site_id), SESSIONS.c.ends_at > self._clock())
        with self._database.reading() as connection:
            row = connection.execute(sa.select(*_COLUMNS).where(live)).one_or_none()
        if row is None:
            raise NotFound("There is no such session, or it has ended: start another.")
        values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
        return SessionRow(**{**values, "scopes": tuple(values["scopes"])})

    def end(self, session_id: str, site_id: str) -> None:
        """End a session that a site has started, or raise NotFound."""
        gone = sa.delete(SESSIONS).where(_mine(session_id, site_id))

        def erase(connection: sa.Connection) -> None:
            if connection.execute(gone).rowcount == 0:
                raise NotFound("There is no such session.")

        self._database.delete_with_reserve(erase)


def forget_ended(connection: sa.Connection, now: float) -> None:
    """Delete the sessions whose time is over, unless links of theirs are still remembered."""
    linked = sa.exists().where(LINKS.c.session_id == SESSIONS.c.id)
    connection.execute(sa.delete(SESSIONS).where(SESSIONS.c.ends_at <= now, sa.not_(linked)))


def _mine(session_id: str, site_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(SESSIONS.c.id == session_id, SESSIONS.c.site_id == site_id)


def _on_roster(student_id: str, site_id: str) -> sa.Select[tuple[str]]:
    given = sa.select(CLASS_TUTORS.c.class_id).where(CLASS_TUTORS.c.owner_id == site_id)
    return (
        sa.select(OWNERS.c.id)
        .where(OWNERS.c.id == student_id, OWNERS.c.role == "student")
        .where(OWNERS.c.class_id.in_(given), OWNERS.c.withdrawn_at.is_(None))
        .with_for_update()
    )


def _end_oldest(connection: sa.Connection, new: NewSession) -> None:
    theirs = sa.select(SESSIONS.c.id).where(
        SESSIONS.c.site_id == new.site_id, SESSIONS.c.student_id == new.student_id
    )
    newest = theirs.order_by(SESSIONS.c.created_at.desc(), SESSIONS.c.id)
    found = connection.execute(newest).scalars().all()
    connection.execute(sa.delete(SESSIONS).where(SESSIONS.c.id.in_(found[MOST_EACH - 1 :])))


def _to_session(row: sa.Row[Any]) -> SessionRow:
    found = row._mapping  # noqa: SLF001 - SQLAlchemy's documented name
    values = {name: found[f"session_{name}"] for name in SessionRow.__annotations__}
    still = tuple(one for one in values["scopes"] if one in found["scopes"])
    return SessionRow(**{**values, "scopes": still})
