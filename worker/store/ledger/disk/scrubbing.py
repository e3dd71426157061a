"""What was deleted must be readable nowhere: the write-ahead log is emptied, however late.

SQLite overwrites what is deleted in the ledger itself (`secure_delete`), but the log keeps the
pages of before until it is emptied, and that waits for whoever reads: a backup may for hours.
So every deletion writes in its own transaction that the log is owed an emptying; it is tried at
once and by the upkeep of every worker, and is owed until it is done. On PostgreSQL nothing is:
there vacuuming, and the archive of its log, are the operator's.
"""

from __future__ import annotations

import secrets

import sqlalchemy as sa

from worker.store.ledger.tables import OWED

_SCRUB = OWED.c.name == "scrub"


def mark_due(connection: sa.Connection) -> None:
    """Write that the log must be emptied, in the transaction that deletes."""
    mark = sa.update(OWED).where(_SCRUB).values(token=secrets.token_hex(8))
    connection.execute(mark)


def due_token(connection: sa.Connection) -> str:
    """What is owed; "" where nothing is."""
    found = connection.execute(sa.select(OWED.c.token).where(_SCRUB)).scalar_one_or_none()
    return str(found or "")


def mark_done(connection: sa.Connection, token: str) -> None:
    """It was emptied; what was deleted meanwhile has another token, and stays owed."""
    connection.execute(sa.update(OWED).where(_SCRUB, OWED.c.token == token).values(token=""))


def empty_log(
    connection: sa.PoolProxiedConnection, patience_ms: int, *, truncate: bool = True
) -> bool:
    """Write the log into the ledger and empty it; False: somebody reads, or writes, just now.

    Only where nothing of the log is held back is it tried to empty it: that keeps every writer
    waiting for as long as a reader goes on.

    Args:
        connection: Outside any transaction.
        patience_ms: How long to wait for readers.
        truncate: Give its room back as well; else it is only used anew from its start.
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
    """What SQLite answers to a pragma."""
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA {pragma}")
    answer = tuple(cursor.fetchone() or ())
    cursor.close()
    return answer
