"""Idempotency keys: a request that is sent twice has the effect of one.

This follows the IETF draft "The Idempotency-Key HTTP Header Field". The first request holds the
key while it is under way, then stores its answer. The same request again gets the same answer;
another request with the same key is refused.

A key is held by a short lease, which the process that answers the request renews; so the key of
a request that died is free again within seconds. That a request has its effect only once does
not depend on the lease: the answer is stored in the transaction of the effect, and a request
that no longer holds the key cannot store one.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from worker.errors import KeyInProgress, KeyReused
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.records import HeldKey, Replay
from worker.store.ledger.stored_answers import drop_subjects, note_subjects
from worker.store.ledger.tables import IDEMPOTENCY_KEYS

#: A key whose lease has not been renewed for this long is free again.
KEY_HOLD_S = 5.0
#: Answers are stored this long. So are keys without an answer: a request may have slept.
ANSWER_KEPT_S = 24 * 3600.0


def begin(
    connection: sa.Connection, owner_id: str, key: str, fingerprint: str, now: float
) -> HeldKey | Replay:
    """Hold a key.

    Returns:
        `Replay` where the key was answered before.

    Raises:
        NotFound: The owner was deleted meanwhile.
        KeyReused: The key came with another request before.
        KeyInProgress: The first request is still under way.
    """
    lock_owner(connection, owner_id)
    held_key = HeldKey(owner_id, key, secrets.token_hex(16))
    values = {"fingerprint": fingerprint, "token": held_key.token, "until": now + KEY_HOLD_S}
    _insert_or_skip(connection, {"owner_id": owner_id, "key": key, **values})
    mine = sa.and_(IDEMPOTENCY_KEYS.c.owner_id == owner_id, IDEMPOTENCY_KEYS.c.key == key)
    row = connection.execute(sa.select(IDEMPOTENCY_KEYS).where(mine).with_for_update()).one()
    if row.token == held_key.token:
        return held_key
    if row.until <= now:
        emptied = values | {"status": None, "body": None}
        connection.execute(sa.update(IDEMPOTENCY_KEYS).where(mine).values(**emptied))
        drop_subjects(connection, owner_id, key)
        return held_key
    if row.fingerprint != fingerprint:
        message = "This idempotency key was used for another request: take a new one."
        raise KeyReused(message, field="Idempotency-Key")
    if row.status is None:
        message = "The first request with this idempotency key is still under way."
        raise KeyInProgress(message, field="Idempotency-Key")
    return Replay(row.status, row.body)


def renew(connection: sa.Connection, held: Iterable[HeldKey], now: float) -> None:
    """Renew the leases of requests that are under way; nothing changes where a key was lost."""
    for held_key in held:
        waits = sa.and_(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
        connection.execute(sa.update(IDEMPOTENCY_KEYS).where(waits).values(until=now + KEY_HOLD_S))


def complete(
    connection: sa.Connection, held_key: HeldKey, status: int, body: str, now: float
) -> None:
    """Store the answer, in the transaction that has the request's effect.

    Raises:
        KeyInProgress: A later request took the key over; it will have the effect, and this one
            must not.
    """
    values = {"status": status, "body": body, "until": now + ANSWER_KEPT_S}
    waits = sa.and_(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
    if connection.execute(sa.update(IDEMPOTENCY_KEYS).where(waits).values(**values)).rowcount != 1:
        message = "This request was sent again while it was under way; the later one goes on."
        raise KeyInProgress(message, field="Idempotency-Key")
    note_subjects(connection, held_key.owner_id, held_key.key, body)


def abandon(connection: sa.Connection, held_key: HeldKey) -> None:
    """Free the key of a request that had no effect."""
    connection.execute(
        sa.delete(IDEMPOTENCY_KEYS).where(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
    )


def forget(connection: sa.Connection, now: float) -> int:
    """Delete keys and answers that have expired; returns how many."""
    answered = sa.and_(IDEMPOTENCY_KEYS.c.status.is_not(None), IDEMPOTENCY_KEYS.c.until <= now)
    dead = IDEMPOTENCY_KEYS.c.until <= now - ANSWER_KEPT_S
    return connection.execute(sa.delete(IDEMPOTENCY_KEYS).where(answered | dead)).rowcount


def _insert_or_skip(connection: sa.Connection, values: dict[str, object]) -> None:
    """Insert a row unless the key exists."""
    if connection.dialect.name == "postgresql":
        connection.execute(
            postgresql.insert(IDEMPOTENCY_KEYS).values(**values).on_conflict_do_nothing()
        )
    else:
        connection.execute(
            sqlite.insert(IDEMPOTENCY_KEYS).values(**values).on_conflict_do_nothing()
        )


def _held(held_key: HeldKey) -> sa.ColumnElement[bool]:
    return sa.and_(
        IDEMPOTENCY_KEYS.c.owner_id == held_key.owner_id,
        IDEMPOTENCY_KEYS.c.key == held_key.key,
        IDEMPOTENCY_KEYS.c.token == held_key.token,
    )
