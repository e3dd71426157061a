"""Idempotency keys: the same request, sent twice, makes one thing.

After the IETF draft "The Idempotency-Key HTTP Header Field": the first request holds the
key while it is under way, then leaves its answer; the same request again gets the same
answer; another request with the same key is refused.
"""

from __future__ import annotations

import secrets

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from worker.errors import KeyInProgress, KeyReused
from worker.ledger.owners import hold_owner
from worker.ledger.rows import Fresh, Replay
from worker.ledger.tables import KEYS

#: A request that has no answer after this is taken for dead, and its key is free again.
HELD_S = 120.0
#: Answers are kept this long.
KEPT_S = 24 * 3600.0


def begin(
    connection: sa.Connection, owner_id: str, key: str, fingerprint: str, now: float
) -> Fresh | Replay:
    """Hold a key, or give back what it was answered with.

    Raises:
        NotFound: Whoever asks was deleted a moment ago.
        KeyReused: The key came with another request before.
        KeyInProgress: The first request is still under way.
    """
    hold_owner(connection, owner_id)
    fresh = Fresh(owner_id, key, secrets.token_hex(16))
    values = {"fingerprint": fingerprint, "token": fresh.token, "until": now + HELD_S}
    _insert_or_skip(connection, {"owner_id": owner_id, "key": key, **values})
    mine = sa.and_(KEYS.c.owner_id == owner_id, KEYS.c.key == key)
    row = connection.execute(sa.select(KEYS).where(mine).with_for_update()).one()
    if row.token == fresh.token:
        return fresh
    if row.until <= now:
        emptied = values | {"status": None, "body": None}
        connection.execute(sa.update(KEYS).where(mine).values(**emptied))
        return fresh
    if row.fingerprint != fingerprint:
        message = "This idempotency key was used for another request: take a new one."
        raise KeyReused(message, field="Idempotency-Key")
    if row.status is None:
        message = "The first request with this idempotency key is still under way."
        raise KeyInProgress(message, field="Idempotency-Key")
    return Replay(row.status, row.body)


def complete(connection: sa.Connection, fresh: Fresh, status: int, body: str, now: float) -> None:
    """Leave the answer; nothing happens when the key was taken over meanwhile."""
    values = {"status": status, "body": body, "until": now + KEPT_S}
    connection.execute(sa.update(KEYS).where(_held(fresh)).values(**values))


def abandon(connection: sa.Connection, fresh: Fresh) -> None:
    """The request made nothing: the key is free again."""
    connection.execute(sa.delete(KEYS).where(_held(fresh), KEYS.c.status.is_(None)))


def forget(connection: sa.Connection, now: float) -> int:
    """Delete keys whose time is over; returns how many."""
    return connection.execute(sa.delete(KEYS).where(KEYS.c.until <= now)).rowcount


def _insert_or_skip(connection: sa.Connection, values: dict[str, object]) -> None:
    """Insert unless the key is there; both databases say it the same way."""
    if connection.dialect.name == "postgresql":
        connection.execute(postgresql.insert(KEYS).values(**values).on_conflict_do_nothing())
    else:
        connection.execute(sqlite.insert(KEYS).values(**values).on_conflict_do_nothing())


def _held(fresh: Fresh) -> sa.ColumnElement[bool]:
    return sa.and_(
        KEYS.c.owner_id == fresh.owner_id, KEYS.c.key == fresh.key, KEYS.c.token == fresh.token
    )
