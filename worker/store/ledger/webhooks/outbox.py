"""The outbox: what webhooks are to be told, written in the transaction of what happened.

So nothing is told that was rolled back, and nothing that happened is forgotten when a process
dies. Who has a webhook for it is decided by who may see the thing; `deliveries` checks that
again before anything is sent. Without any webhook this is one look into an empty table.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import sqlalchemy as sa

from worker.store.ledger.database.database import server_time
from worker.store.ledger.records import FINAL_STATES, new_id
from worker.store.ledger.tables import (
    BATCH_ITEMS,
    BATCHES,
    CLASS_TUTORS,
    CLASSES,
    OWNERS,
    PACKS,
    SITES,
    WEBHOOK_MESSAGES,
    WEBHOOKS,
)
from worker.store.ledger.webhooks.records import EventType

#: The scope that a course site needs to have webhooks.
SCOPE = "webhooks"
_ENDED: dict[str, EventType] = {"ready": "pack.ready", "failed": "pack.failed"}


def packs_ended(connection: sa.Connection, ids: Sequence[str], now: float) -> None:
    """Note that these packs have just ended, and those of their batches that thereby did."""
    if not ids or not _any(connection):
        return
    rows = sa.select(PACKS.c.id, PACKS.c.owner_id, PACKS.c.state).where(PACKS.c.id.in_(ids))
    for row in connection.execute(rows).all():
        pack_failed_or_ready(connection, row, now)
    batches_ended(connection, _batches_of(connection, BATCH_ITEMS.c.pack_id.in_(ids)), now)


def pack_failed_or_ready(connection: sa.Connection, row: Any, now: float) -> None:
    """Note that a pack is ready, or failed; its row has `id`, `owner_id` and `state`."""
    if row.state not in _ENDED or not _any(connection):
        return
    own = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == row.owner_id)
    lines = BATCHES.join(BATCH_ITEMS, BATCH_ITEMS.c.batch_id == BATCHES.c.id)
    batched = sa.select(BATCHES.c.class_id).select_from(lines)
    classes = own.union(batched.where(BATCH_ITEMS.c.pack_id == row.id))
    acts_for = sa.select(OWNERS.c.tutor_id).where(OWNERS.c.id == row.owner_id)
    owner = WEBHOOKS.c.owner_id
    watching = sa.or_(owner == row.owner_id, owner.in_(acts_for), _teaches(classes))
    _tell(connection, _ENDED[row.state], watching, now, pack_id=row.id)


def unfinished_batches(connection: sa.Connection, which: sa.ColumnElement[bool]) -> list[str]:
    """The batches that wait for any of these packs, which are deleted next."""
    if not _any(connection):
        return []
    waits = sa.select(PACKS.c.id).where(which, PACKS.c.state.not_in(FINAL_STATES))
    return _batches_of(connection, BATCH_ITEMS.c.pack_id.in_(waits))


def batches_ended(connection: sa.Connection, ids: Iterable[str], now: float | None = None) -> None:
    """Note those of these batches of which no pack waits any more.

    The caller's transaction has just ended or deleted a pack of each. Each batch is locked, so
    that of two transactions that end its last two packs one sees that they were the last. Where
    packs are deleted no clock is at hand: then `now` is None, and what is told is due at once.
    """
    for batch_id in sorted(ids):
        held = sa.select(BATCHES.c.class_id).where(BATCHES.c.id == batch_id).with_for_update()
        class_id = connection.execute(held).scalar_one_or_none()
        theirs = BATCH_ITEMS.join(PACKS, PACKS.c.id == BATCH_ITEMS.c.pack_id)
        waits = (
            sa.select(PACKS.c.id)
            .select_from(theirs)
            .where(BATCH_ITEMS.c.batch_id == batch_id, PACKS.c.state.not_in(FINAL_STATES))
        )
        if class_id is not None and connection.execute(waits.limit(1)).one_or_none() is None:
            watching = _teaches(sa.select(sa.literal(class_id)))
            _tell(connection, "batch.done", watching, now, batch_id=batch_id)


def batch_made(connection: sa.Connection, batch_id: str, now: float) -> None:
    """Note a batch that has ended as soon as it was made: none of its lines has a pack."""
    if _any(connection):
        batches_ended(connection, [batch_id], now)


def student_joined(connection: sa.Connection, student_id: str, class_id: str, now: float) -> None:
    """Note that a student has joined on a device."""
    if _any(connection):
        watching = _teaches(sa.select(sa.literal(class_id)))
        _tell(connection, "student.joined", watching, now, student_id=student_id)


def _any(connection: sa.Connection) -> bool:
    return connection.execute(sa.select(WEBHOOKS.c.id).limit(1)).one_or_none() is not None


def _batches_of(connection: sa.Connection, which: sa.ColumnElement[bool]) -> list[str]:
    found = sa.select(BATCH_ITEMS.c.batch_id).where(which).distinct()
    return list(connection.execute(found).scalars())


def _teaches(classes: Any) -> sa.ColumnElement[bool]:
    """The webhook is of someone who teaches in one of these classes, or of a site in it."""
    owner = WEBHOOKS.c.owner_id
    tutors = sa.select(CLASSES.c.tutor_id).where(CLASSES.c.id.in_(classes))
    added = sa.select(CLASS_TUTORS.c.owner_id).where(CLASS_TUTORS.c.class_id.in_(classes))
    return sa.or_(owner.in_(tutors), owner.in_(added))


def live(now: float | None) -> sa.ColumnElement[bool]:
    """The webhook is not disabled, and its course site's time is not over, if `now` is known."""
    enabled = WEBHOOKS.c.disabled_at.is_(None)
    if now is None:
        return enabled
    return sa.and_(enabled, sa.or_(SITES.c.id.is_(None), SITES.c.expires_at > now))


def may(scopes: Sequence[str] | None) -> bool:
    """Whether scopes let a course site have webhooks; None: it is a person's."""
    return scopes is None or SCOPE in scopes


def _tell(
    connection: sa.Connection,
    event: EventType,
    watching: sa.ColumnElement[bool],
    now: float | None,
    **about: str,
) -> None:
    """Insert a message for each webhook that wants it."""
    named = sa.select(WEBHOOKS.c.id, WEBHOOKS.c.events, SITES.c.scopes)
    theirs = named.outerjoin_from(WEBHOOKS, SITES, SITES.c.id == WEBHOOKS.c.owner_id)
    rows = connection.execute(theirs.where(watching, live(now)).order_by(WEBHOOKS.c.id)).all()
    messages = [
        {
            "id": new_id("msg_"),
            "webhook_id": row.id,
            "type": event,
            "at": server_time(connection) if now is None else now,
            "next_at": now or 0.0,
            "tries": 0,
            **about,
        }
        for row in rows
        if event in row.events and may(row.scopes)
    ]
    if messages:
        connection.execute(sa.insert(WEBHOOK_MESSAGES), messages)
