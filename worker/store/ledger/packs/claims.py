"""Packs for the process that makes them: claim, renew the lease, finish, fail.

A claim is a lease, which lasts as long as heartbeats renew it. Every later statement has
`WHERE id AND lease_token`, so a process that lost its lease and goes on changes nothing, and
learns that it lost it.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from worker.store.ledger.packs.packs import to_pack
from worker.store.ledger.records import Claim, HeartbeatReply, PackResult
from worker.store.ledger.tables import PACKS, QUEUED
from worker.store.ledger.webhooks import outbox

#: Values of a row without a lease.
FREE: dict[str, Any] = {"lease_token": None, "lease_until": None, "lease_holder": None}
#: The step of a pack that waits for room on the disk.
WAITING_FOR_ROOM = "waiting-for-room"
#: A pack that filled the disk this often, although there was room to begin each time, will do
#: so again. By then some hours have passed.
MOST_ROOM_WAITS = 12
FIRST_ROOM_WAIT_S, LONGEST_ROOM_WAIT_S = 5.0, 1800.0
#: An update of all workers takes less than this; a pack that a newer version planned is asked for
#: again by those that cannot make it so often meanwhile.
LONGEST_FOR_NEWER_S, FOR_NEWER_PAUSE_S = 3600.0, 5.0


@dataclass(frozen=True, kw_only=True)
class Step:
    """Progress: pieces done, pieces in all, and the name of the current step."""

    done: int
    total: int
    step: str


def claim(connection: sa.Connection, holder: str, now: float, lease_s: float) -> Claim | None:
    """Claim the waiting pack that is next in the fair order; None where none waits."""
    first = (
        sa.select(PACKS.c.id)
        .where(QUEUED, PACKS.c.not_before <= now)
        .order_by(PACKS.c.virtual_time, PACKS.c.created_at, PACKS.c.id)
        .limit(1)
        .with_for_update(skip_locked=True)
        .scalar_subquery()
    )
    token = secrets.token_hex(16)
    taken = (
        sa.update(PACKS)
        .where(PACKS.c.id == first, QUEUED)
        .values(
            state="making",
            attempt=PACKS.c.attempt + 1,
            done=0,
            step="reading",
            started_at=sa.func.coalesce(PACKS.c.started_at, now),
            lease_token=token,
            lease_until=now + lease_s,
            lease_holder=holder,
        )
        .returning(PACKS)
    )
    row = connection.execute(taken).one_or_none()
    return None if row is None else Claim(pack=to_pack(row), token=token)


def renew_lease(
    connection: sa.Connection, held: Claim, until: float, step: Step | None
) -> HeartbeatReply:
    """Renew the lease until `until`, and write the progress."""
    values: dict[str, Any] = {"lease_until": until}
    if step is not None:
        values |= {"done": step.done, "total": step.total, "step": step.step}
    renewed = sa.update(PACKS).where(_held(held)).values(**values)
    return _reply(connection.execute(renewed.returning(PACKS.c.cancel_requested)).one_or_none())


def check_lease(connection: sa.Connection, held: Claim) -> HeartbeatReply:
    """Read whether the lease is still held and the pack not cancelled."""
    asked = sa.select(PACKS.c.cancel_requested).where(_held(held))
    return _reply(connection.execute(asked).one_or_none())


def finish(connection: sa.Connection, held: Claim, made: PackResult, now: float) -> bool:
    """The pack is ready. False: the lease is lost or it was cancelled; discard the files."""
    values = FREE | {
        "state": "ready",
        "number": made.number,
        "files_key": made.files_key,
        "done": made.total,
        "total": made.total,
        "step": "",
        "finished_at": now,
    }
    wanted = sa.and_(_held(held), PACKS.c.cancel_requested.is_(sa.false()))
    return _ended(connection, held, wanted, values, now)


def end(connection: sa.Connection, held: Claim, now: float, error: tuple[str, str] | None) -> bool:
    """The pack failed with (code, detail), or was cancelled (None). False: lease lost."""
    values = _cancelled(now)
    if error is not None:
        values |= {"state": "failed", "error_code": error[0], "error_detail": error[1]}
    return _ended(connection, held, _held(held), values, now)


def end_if_cancelled(connection: sa.Connection, held: Claim, now: float) -> bool:
    """End a pack that its owner cancelled meanwhile: it is not made again. False: it goes on."""
    wanted = sa.and_(_held(held), PACKS.c.cancel_requested)
    return _ended(connection, held, wanted, _cancelled(now), now)


def _cancelled(now: float) -> dict[str, Any]:
    """What a row has that was cancelled at `now`."""
    return FREE | {"state": "cancelled", "step": "", "finished_at": now}


def put_back(connection: sa.Connection, held: Claim, not_before: float) -> bool:
    """Queue the pack again, for another attempt. False: lease lost."""
    values = FREE | {"state": "queued", "done": 0, "step": "", "not_before": not_before}
    return _changed(connection, _held(held), values)


def hand_back(connection: sa.Connection, held: Claim, now: float, pause_s: float = 0.0) -> bool:
    """Queue a pack again that is fit to be made, but not by this worker; no attempt is counted.

    Returns:
        False where it was cancelled meanwhile, or the lease was lost.
    """
    if end_if_cancelled(connection, held, now):
        return False
    values = FREE | {
        "state": "queued",
        "done": 0,
        "step": "",
        "attempt": held.pack.attempt - 1,
        "not_before": now + pause_s,
    }
    return _changed(connection, _held(held), values)


def leave_to_newer(
    connection: sa.Connection, held: Claim, now: float, error: tuple[str, str]
) -> bool:
    """Hand back a pack that a newer version planned, and which workers of that version can make.

    Returns:
        False where none has done so for so long that it failed, or it was handed back by nobody.
    """
    if now - held.pack.created_at > LONGEST_FOR_NEWER_S:
        end(connection, held, now, error)
        return False
    return hand_back(connection, held, now, FOR_NEWER_PAUSE_S)


def wait_for_room(
    connection: sa.Connection, held: Claim, now: float, error: tuple[str, str]
) -> bool:
    """Queue a pack again during whose making the disk ran full or storage was away.

    No attempt is counted, since nothing is wrong with the pack. Without room no pack is begun, so
    only a pack that fills the disk itself is queued here repeatedly: it waits longer each time,
    and fails in the end with `error`, a code and its detail.

    Returns:
        False where it failed, was cancelled meanwhile, or the lease was lost.
    """
    if end_if_cancelled(connection, held, now):
        return False
    waits = held.pack.room_waits + 1
    if waits > MOST_ROOM_WAITS:
        end(connection, held, now, error)
        return False
    values = FREE | {
        "state": "queued",
        "done": 0,
        "step": WAITING_FOR_ROOM,
        "attempt": held.pack.attempt - 1,
        "room_waits": waits,
        "not_before": now + min(FIRST_ROOM_WAIT_S * 2 ** (waits - 1), LONGEST_ROOM_WAIT_S),
    }
    return _changed(connection, _held(held), values)


def _held(held: Claim) -> sa.ColumnElement[bool]:
    return sa.and_(
        PACKS.c.id == held.pack.id, PACKS.c.lease_token == held.token, PACKS.c.state == "making"
    )


def _reply(row: sa.Row[Any] | None) -> HeartbeatReply:
    if row is None:
        return HeartbeatReply.LOST
    return HeartbeatReply.CANCEL if row.cancel_requested else HeartbeatReply.HELD


def _ended(
    connection: sa.Connection,
    held: Claim,
    where: sa.ColumnElement[bool],
    values: dict[str, Any],
    now: float,
) -> bool:
    """The same for values with which the pack has ended: webhooks are told."""
    ended = _changed(connection, where, values)
    if ended:
        outbox.packs_ended(connection, [held.pack.id], now)
    return ended


def _changed(
    connection: sa.Connection, where: sa.ColumnElement[bool], values: dict[str, Any]
) -> bool:
    return connection.execute(sa.update(PACKS).where(where).values(**values)).rowcount == 1
