"""The ids of what was deleted, so that a copy of the ledger brings nothing of it back.

A deletion notes the ids in its transaction. Upkeep writes them into lists beside the files, and
forgets them here. Where a copy of the ledger from before is put back, its table does not know the
newer lists: what they name is deleted again. Ids are random and never used again, so a list does
no harm to any ledger, however often it is read; and it tells nobody who or what it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from worker.store.ledger.database.database import Database, server_time
from worker.store.ledger.tables import ACCESS_KEYS, DELETION_LISTS, DELETIONS

#: As many ids as one list has; and rows of one statement on any database.
MOST_IDS, _CHUNK = 10_000, 500
#: Deletes what has these ids in a transaction, and returns storage keys.
Erase = Callable[[sa.Connection, Sequence[str]], tuple[str, ...]]


def note(connection: sa.Connection, ids: Iterable[str]) -> None:
    """Note ids that are deleted in this transaction."""
    rows = [{"id": one} for one in sorted(set(ids))]
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    for start in range(0, len(rows), _CHUNK):
        # What was put back and is deleted again may be noted already.
        some = dialect.insert(DELETIONS).values(rows[start : start + _CHUNK])
        connection.execute(some.on_conflict_do_nothing())


class DeletedIds:
    """Each method is one transaction, as in `Ledger`, which has one of these.

    Args:
        database: The ledger's.
        erase: Deletes what is there of some ids again.
    """

    def __init__(self, database: Database, erase: Erase) -> None:
        self._database = database
        self._erase = erase

    def unlisted(self) -> list[str]:
        """Some ids that are in no list yet."""
        with self._database.reading() as connection:
            some = sa.select(DELETIONS.c.id).order_by(DELETIONS.c.id).limit(MOST_IDS)
            return list(connection.execute(some).scalars())

    def listed(self, ids: Sequence[str], name: str) -> None:
        """Forget ids that a list has now, and note the list as this ledger's own."""

        def forget(connection: sa.Connection) -> None:
            for start in range(0, len(ids), _CHUNK):
                some = DELETIONS.c.id.in_(ids[start : start + _CHUNK])
                connection.execute(sa.delete(DELETIONS).where(some))
            connection.execute(sa.insert(DELETION_LISTS).values(name=name))

        self._database.delete_with_reserve(forget)

    def lists(self) -> set[str]:
        """Names of the lists that this ledger has written or obeyed."""
        with self._database.reading() as connection:
            return set(connection.execute(sa.select(DELETION_LISTS.c.name)).scalars())

    def forget_lists(self, names: Iterable[str]) -> None:
        """Forget lists that are there no more."""
        with self._database.writing() as connection:
            for name in names:
                connection.execute(sa.delete(DELETION_LISTS).where(DELETION_LISTS.c.name == name))

    def delete_again(self, ids: Sequence[str], name: str) -> tuple[str, ...]:
        """Delete what a list names and what is there; returns storage keys of files."""

        def act(connection: sa.Connection) -> tuple[str, ...]:
            keys = self._erase(connection, ids)
            _withdraw(connection, ids)
            connection.execute(sa.insert(DELETION_LISTS).values(name=name))
            return keys

        return self._database.delete_with_reserve(act)


def _withdraw(connection: sa.Connection, ids: Sequence[str]) -> None:
    """Withdraw the keys among these ids again, and end what was opened with them."""
    keys = [one for one in ids if one.startswith("key_")]
    now = server_time(connection)
    for start in range(0, len(keys), _CHUNK):
        some = keys[start : start + _CHUNK]
        either = sa.or_(ACCESS_KEYS.c.id.in_(some), ACCESS_KEYS.c.opened_with.in_(some))
        sign_ins = sa.and_(either, ACCESS_KEYS.c.opened_with.is_not(None))
        connection.execute(sa.delete(ACCESS_KEYS).where(sign_ins))
        theirs = sa.update(ACCESS_KEYS).where(ACCESS_KEYS.c.id.in_(some))
        live = theirs.where(ACCESS_KEYS.c.withdrawn_at.is_(None))
        connection.execute(live.values(withdrawn_at=now))
