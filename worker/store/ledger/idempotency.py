"""Idempotency keys: the same request, sent twice, makes one thing.

After the IETF draft "The Idempotency-Key HTTP Header Field": the first request holds the
key while it is under way, then leaves its answer; the same request again gets the same
answer; another request with the same key is refused.

A key is held by a short lease that whoever answers the request renews, so that a request
which died gives its key back within seconds. What makes one thing of two requests does not
rest on that: the answer is left in the transaction that makes the thing, and whoever no
longer holds the key cannot leave one.
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

#: A request that has not renewed its hold for so long is taken for dead, and its key is free
#: again.
KEY_HOLD_S = 5.0
#: Answers are kept this long, and keys without one as well: whoever slept may still leave his.
ANSWER_KEPT_S = 24 * 3600.0


def begin(
    connection: sa.Connection, owner_id: str, key: str, fingerprint: str, now: float
) -> HeldKey | Replay:
    """Hold a key, or give back what it was answered with.

    Raises:
        NotFound: Whoever asks was deleted a moment ago.
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
    """These requests are still under way; one whose key was taken over gets nothing back."""
    for held_key in held:
        waits = sa.and_(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
        connection.execute(sa.update(IDEMPOTENCY_KEYS).where(waits).values(until=now + KEY_HOLD_S))


def complete(
    connection: sa.Connection, held_key: HeldKey, status: int, body: str, now: float
) -> None:
    """Leave the answer, in the transaction that makes what it tells of.

    Raises:
        KeyInProgress: The key was taken over meanwhile: the later request makes the thing,
            and this one must not make it again.
    """
    values = {"status": status, "body": body, "until": now + ANSWER_KEPT_S}
    waits = sa.and_(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
    if connection.execute(sa.update(IDEMPOTENCY_KEYS).where(waits).values(**values)).rowcount != 1:
        message = "This request was sent again while it was under way; the later one goes on."
        raise KeyInProgress(message, field="Idempotency-Key")
    note_subjects(connection, held_key.owner_id, held_key.key, body)


def abandon(connection: sa.Connection, held_key: HeldKey) -> None:
    """The request made nothing: the key is free again."""
    connection.execute(
        sa.delete(IDEMPOTENCY_KEYS).where(_held(held_key), IDEMPOTENCY_KEYS.c.status.is_(None))
    )


def forget(connection: sa.Connection, now: float) -> int:
    """Delete keys whose time is over; returns how many."""
    answered = sa.and_(IDEMPOTENCY_KEYS.c.status.is_not(None), IDEMPOTENCY_KEYS.c.until <= now)
    dead = IDEMPOTENCY_KEYS.c.until <= now - ANSWER_KEPT_S
    return connection.execute(sa.delete(IDEMPOTENCY_KEYS).where(answered | dead)).rowcount


def _insert_or_skip(connection: sa.Connection, values: dict[str, object]) -> None:
    """Insert unless the key is there; both databases say it the same way."""
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
