"""Emptying the write-ahead log after deletions, so that deleted data can be read nowhere.

SQLite overwrites deleted rows in the ledger's file itself (`secure_delete`), but its log keeps
the old pages until it is emptied. That must wait for readers, and a backup may read for hours.
So every deletion records in its own transaction that emptying is due; it is tried at once and by
every worker's upkeep, and stays due until it is done. On PostgreSQL this does nothing: there
vacuuming, and archives of its log, are up to the operator.
"""

from __future__ import annotations

import secrets

import sqlalchemy as sa

from worker.store.ledger.tables import OWED

_SCRUB = OWED.c.name == "scrub"


def mark_due(connection: sa.Connection) -> None:
    """Record in the transaction that deletes that the log must be emptied."""
    mark = sa.update(OWED).where(_SCRUB).values(token=secrets.token_hex(8))
    connection.execute(mark)


def due_token(connection: sa.Connection) -> str:
    """The token of the last deletion since the log was emptied; "" where nothing is due."""
    found = connection.execute(sa.select(OWED.c.token).where(_SCRUB)).scalar_one_or_none()
    return str(found or "")


def mark_done(connection: sa.Connection, token: str) -> None:
    """Record that it was emptied; after a newer deletion the token differs, and it stays due."""
    connection.execute(sa.update(OWED).where(_SCRUB, OWED.c.token == token).values(token=""))


def empty_log(
    connection: sa.PoolProxiedConnection, patience_ms: int, *, truncate: bool = True
) -> bool:
    """Write the log's pages into the ledger's file and empty the log.

    Emptying is tried only if all pages could be written, since it makes every writer wait until
    readers end.

    Args:
        connection: Outside any transaction.
        patience_ms: How long to wait for readers.
        truncate: Shrink the log's file as well; else it is only reused from its start.

    Returns:
        False where somebody reads or writes just now.
    """
    usual_ms = _pragma(connection, "busy_timeout")[0]
    _pragma(connection, f"busy_timeout={patience_ms}")
    try:
        busy, pages, written = _pragma(connection, "wal_checkpoint(PASSIVE)")
        if busy or written < pages:
            return False
        return not truncate or _pragma(connection, "wal_checkpoint(TRUNCATE)")[0] == 0
    finally:
        _pragma(connection, f"busy_timeout={usual_ms}")


def _pragma(connection: sa.PoolProxiedConnection, pragma: str) -> tuple[int, ...]:
    """Run a pragma; returns the row that SQLite answers with."""
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA {pragma}")
    answer = tuple(cursor.fetchone() or ())
    cursor.close()
    return answer
