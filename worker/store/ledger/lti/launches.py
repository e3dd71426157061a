"""Logins under way, launches that are open, and our own signing keys.

Every secret is used once or is stored as a hash. What is over is deleted with the next login.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import sqlalchemy as sa

from worker.store.ledger.database.database import Database
from worker.store.ledger.lti.records import LAUNCH_S, LOGIN_S, LaunchRow, LoginRow
from worker.store.ledger.people.credentials import key_hash, new_launch
from worker.store.ledger.tables import LTI_KEYS, LTI_LAUNCHES, LTI_LOGINS

#: Most logins under way, which anybody can begin, and most open launches of one person: neither
#: may fill the disk, so the oldest end. Nobody is refused, or a flood would keep all schools out.
MOST_LOGINS = 20_000
MOST_EACH = 10
#: Wrong tokens after which a login is over (our choice): a platform that has changed its keys gets
#: another try.
MOST_FAILURES = 3

_Row = TypeVar("_Row", LoginRow, LaunchRow)


class Launches:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def begin(self, login: LoginRow) -> None:
        """Note a login, until it is over or too many have begun after it."""
        now = self._clock()
        values = {**vars(login), "ends_at": now + LOGIN_S}
        values |= {name: key_hash(values[name]) for name in ("state", "nonce", "browser")}
        with self._database.writing() as connection:
            for table in (LTI_LOGINS, LTI_LAUNCHES):
                connection.execute(sa.delete(table).where(table.c.ends_at <= now))
            _make_room(connection)
            connection.execute(sa.insert(LTI_LOGINS).values(**values))

    def login(self, state: str) -> LoginRow | None:
        """A login under way, with hashes for its secrets; None: it is over, or never was."""
        return self._under_way(LoginRow, LTI_LOGINS, LTI_LOGINS.c.state == key_hash(state))

    def use_up(self, state: str) -> bool:
        """End a login; False where somebody else has, so that of two launches one is let in."""
        with self._database.writing() as connection:
            gone = sa.delete(LTI_LOGINS).where(LTI_LOGINS.c.state == key_hash(state))
            return connection.execute(gone).rowcount == 1

    def note_failure(self, state: str) -> None:
        """Note that a login got a wrong token; the last of `MOST_FAILURES` ends it."""
        named = LTI_LOGINS.c.state == key_hash(state)
        with self._database.writing() as connection:
            more = sa.update(LTI_LOGINS).where(named).values(failures=LTI_LOGINS.c.failures + 1)
            connection.execute(more)
            over = named & (LTI_LOGINS.c.failures >= MOST_FAILURES)
            connection.execute(sa.delete(LTI_LOGINS).where(over))

    def open(self, platform_id: str, class_id: str, person_id: str) -> str:
        """Open a launch for its page; returns the secret by which the page goes on."""
        secret = new_launch()
        values = {
            "hash": key_hash(secret),
            "platform_id": platform_id,
            "class_id": class_id,
            "person_id": person_id,
            "ends_at": self._clock() + LAUNCH_S,
        }
        theirs = sa.select(LTI_LAUNCHES.c.hash).where(LTI_LAUNCHES.c.person_id == person_id)
        newest = theirs.order_by(LTI_LAUNCHES.c.ends_at.desc(), LTI_LAUNCHES.c.hash)
        with self._database.writing() as connection:
            found = connection.execute(newest).scalars().all()
            old = LTI_LAUNCHES.c.hash.in_(found[MOST_EACH - 1 :])
            connection.execute(sa.delete(LTI_LAUNCHES).where(old))
            connection.execute(sa.insert(LTI_LAUNCHES).values(**values))
        return secret

    def opened(self, secret: str) -> LaunchRow | None:
        """The launch of a page's secret; None: it is over, or something it stood on has gone."""
        return self._under_way(LaunchRow, LTI_LAUNCHES, LTI_LAUNCHES.c.hash == key_hash(secret))

    def _under_way(
        self, kind: type[_Row], table: sa.Table, named: sa.ColumnElement[bool]
    ) -> _Row | None:
        """The row of this name that has not ended, in the columns that its kind has."""
        columns = [table.c[name] for name in kind.__annotations__]
        found = sa.select(*columns).where(named, table.c.ends_at > self._clock())
        with self._database.reading() as connection:
            row = connection.execute(found).one_or_none()
        return None if row is None else kind(**row._mapping)  # noqa: SLF001 - its documented name

    def close(self, secret: str) -> bool:
        """End a launch; False where it was over."""
        with self._database.writing() as connection:
            gone = sa.delete(LTI_LAUNCHES).where(LTI_LAUNCHES.c.hash == key_hash(secret))
            return connection.execute(gone).rowcount == 1

    def signing_keys(self) -> tuple[tuple[str, dict[str, Any], float], ...]:
        """Our signing keys, the newest first: id, private JWK (RFC 7517), when it was made."""
        newest = sa.select(LTI_KEYS).order_by(LTI_KEYS.c.created_at.desc(), LTI_KEYS.c.id)
        with self._database.reading() as connection:
            found = connection.execute(newest).all()
        return tuple((row.id, dict(row.jwk), row.created_at) for row in found)

    def add_key(self, key_id: str, jwk: dict[str, Any], forget_before: float) -> None:
        """Add a signing key, and delete those made before some time."""
        with self._database.writing() as connection:
            connection.execute(sa.delete(LTI_KEYS).where(LTI_KEYS.c.created_at < forget_before))
            values = {"id": key_id, "jwk": jwk, "created_at": self._clock()}
            connection.execute(sa.insert(LTI_KEYS).values(**values))


def _make_room(connection: sa.Connection) -> None:
    """End the oldest logins where there are too many, of the platform that has most of them.

    So a flood of logins at one platform ends its own, and none of another's.
    """
    counted = sa.func.count()
    largest = sa.select(LTI_LOGINS.c.platform_id, counted).group_by(LTI_LOGINS.c.platform_id)
    found = connection.execute(largest.order_by(counted.desc())).all()
    excess = sum(count for _, count in found) - MOST_LOGINS + 1
    if excess <= 0 or not found:
        return
    theirs = sa.select(LTI_LOGINS.c.state).where(LTI_LOGINS.c.platform_id == found[0][0])
    oldest = theirs.order_by(LTI_LOGINS.c.ends_at, LTI_LOGINS.c.state).limit(excess)
    connection.execute(sa.delete(LTI_LOGINS).where(LTI_LOGINS.c.state.in_(oldest)))
