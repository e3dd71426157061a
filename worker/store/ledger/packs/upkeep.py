"""Upkeep of packs: leases that ran out, turns, packs that wait, and counts.

One worker at a time frees leases (a row records its turn), though two would do no harm.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field

import sqlalchemy as sa

from worker.store.ledger.database.savepoints import skipping_errors
from worker.store.ledger.packs import queue_limit
from worker.store.ledger.packs.claims import FREE, WAITING_FOR_ROOM
from worker.store.ledger.records import PACK_STATES, FreedPacks, Gauges, PackState, attempt_key
from worker.store.ledger.tables import PACKS, QUEUED, REFERENCES, TURNS
from worker.store.ledger.webhooks import outbox

GAVE_UP = "gave-up"


@dataclass
class _Tally:
    """Ids of packs whose lease ran out, by their new state."""

    queued: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    cancelled: list[str] = field(default_factory=list)


def gave_up_detail(attempts: int) -> str:
    """The reason of a pack that was given up because the processes that made it died."""
    times = "once" if attempts == 1 else f"{attempts} times"
    return (
        f"Making stopped without a word {times}: the program was ended or the machine ran "
        "out of memory. Ask for a smaller picture or a lower resolution, or try again later."
    )


def lapsed_leases(connection: sa.Connection, now: float) -> frozenset[str]:
    """Tokens of the leases that have run out."""
    late = sa.select(PACKS.c.lease_token).where(_lapsed(now))
    return frozenset(connection.execute(late).scalars())


def free_lapsed(
    connection: sa.Connection, now: float, attempts: int, tokens: Collection[str] | None = None
) -> FreedPacks:
    """Requeue or give up packs whose lease ran out; with `tokens`, of these leases alone."""
    late = _lapsed(now)
    if tokens is not None:
        late = sa.and_(late, PACKS.c.lease_token.in_(tokens))
    return _free(connection, late, now, attempts)


def lease_holders(connection: sa.Connection) -> set[str]:
    """The holders of all leases now."""
    making = sa.select(PACKS.c.lease_holder).where(PACKS.c.state == "making").distinct()
    return set(connection.execute(making).scalars())


def free_held_by(
    connection: sa.Connection, dead: set[str], now: float, attempts: int
) -> FreedPacks:
    """The same at once for the packs of these holders, which are known to have died."""
    theirs = sa.and_(PACKS.c.state == "making", PACKS.c.lease_holder.in_(dead))
    return _free(connection, theirs, now, attempts)


def take_turn(
    connection: sa.Connection, name: str, holder: str, now: float, seconds: float
) -> bool:
    """Take or keep the turn for a job that one process does at a time."""
    free = sa.or_(TURNS.c.until <= now, TURNS.c.holder == holder)
    mine = sa.update(TURNS).where(TURNS.c.name == name, free)
    return connection.execute(mine.values(holder=holder, until=now + seconds)).rowcount == 1


def waiting(
    connection: sa.Connection, now: float, longer_than_s: float, most: int | None = None
) -> int:
    """How many packs have waited to be begun for longer than this; `most` ends the count."""
    due, late = PACKS.c.not_before <= now, PACKS.c.created_at <= now - longer_than_s
    return queue_limit.waiting(connection, most, due, late)


def room_note_outdated(connection: sa.Connection, *, there: bool) -> bool:
    """Whether the step of any waiting pack is wrong about the room on the disk."""
    outdated = sa.select(PACKS.c.id).where(_room_note_outdated(there=there)).limit(1)
    return connection.execute(outdated).one_or_none() is not None


def note_room(connection: sa.Connection, *, there: bool) -> int:
    """Set the step of waiting packs to whether they wait for room; returns how many changed."""
    step = "" if there else WAITING_FOR_ROOM
    changed = sa.update(PACKS).where(_room_note_outdated(there=there)).values(step=step)
    return int(connection.execute(changed).rowcount)


def _room_note_outdated(*, there: bool) -> sa.ColumnElement[bool]:
    step = PACKS.c.step
    return sa.and_(QUEUED, step == WAITING_FOR_ROOM if there else step != WAITING_FOR_ROOM)


def gauges(connection: sa.Connection, now: float) -> Gauges:
    """Counts for the metrics page."""
    by_state = sa.select(PACKS.c.state, sa.func.count()).group_by(PACKS.c.state)
    found = {row[0]: row[1] for row in connection.execute(by_state)}
    photos = connection.execute(sa.select(sa.func.count()).select_from(REFERENCES)).scalar_one()
    ages: dict[PackState, float] = {
        "queued": _oldest_s(connection, now, QUEUED),
        "making": _oldest_s(connection, now, PACKS.c.state == "making"),
    }
    return Gauges(
        packs={state: int(found.get(state, 0)) for state in PACK_STATES},
        references=int(photos),
        idle_s=_idle_s(connection, now),
        oldest_s=ages,
    )


def stalled_s(connection: sa.Connection, now: float) -> float:
    """For how long packs have waited while nobody made any; 0 where none waits."""
    idle_s = _idle_s(connection, now)
    # While packs are made, the queue need not be looked through.
    return min(_oldest_s(connection, now, QUEUED), idle_s) if idle_s else 0.0


def _oldest_s(connection: sa.Connection, now: float, those: sa.ColumnElement[bool]) -> float:
    """The age of the oldest of those packs; 0 where there is none."""
    oldest = sa.select(sa.func.min(PACKS.c.created_at)).where(those)
    since = connection.execute(oldest).scalar_one()
    return max(0.0, now - since) if since is not None else 0.0


def _idle_s(connection: sa.Connection, now: float) -> float:
    """How long ago a worker last held a lease or finished a pack; 0 while a lease runs."""
    # One by one, since each is the end of a part of the index.
    signs = [
        connection.execute(sa.select(sa.func.max(sign)).where(PACKS.c.state == state)).scalar_one()
        for state, sign in (
            ("making", PACKS.c.lease_until),
            ("ready", PACKS.c.finished_at),
            ("failed", PACKS.c.finished_at),
        )
    ]
    known = [sign for sign in signs if sign is not None]
    return max(0.0, now - max(known)) if known else math.inf


def _lapsed(now: float) -> sa.ColumnElement[bool]:
    return sa.and_(PACKS.c.state == "making", PACKS.c.lease_until < now)


def _free(
    connection: sa.Connection, which: sa.ColumnElement[bool], now: float, attempts: int
) -> FreedPacks:
    """End or queue each of these packs; the report has keys of files that may be left of them."""
    tally, stale = _Tally(), []
    for row in connection.execute(
        sa.select(PACKS.c.id, PACKS.c.attempt, PACKS.c.cancel_requested, PACKS.c.lease_token)
        .where(which)
        .with_for_update(skip_locked=True)
    ).all():
        values: dict[str, object] = FREE | {"state": "queued", "done": 0, "step": ""}
        if row.cancel_requested:
            values |= {"state": "cancelled", "finished_at": now}
        elif row.attempt >= attempts:
            detail = gave_up_detail(row.attempt)
            values |= {"state": "failed", "error_code": GAVE_UP, "error_detail": detail}
            values |= {"finished_at": now}
        with skipping_errors(connection, f"{row.id} cannot be freed"):
            connection.execute(sa.update(PACKS).where(PACKS.c.id == row.id).values(**values))
            getattr(tally, str(values["state"])).append(row.id)
            stale.append(attempt_key(row.id, row.lease_token))
    outbox.packs_ended(connection, tally.failed + tally.cancelled, now)
    return FreedPacks(
        requeued=tuple(tally.queued),
        gave_up=tuple(tally.failed),
        cancelled=tuple(tally.cancelled),
        stale_keys=tuple(stale),
    )
