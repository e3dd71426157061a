"""Packs for their owner: ask for, read, mark, cancel, delete.

The order is start-time fair queueing (Goyal, Vin and Cheng, 1996). A new pack's start is the
later of the queue's virtual time and the end of its payer's last pack; its end is its start plus
its cost; the pack with the smallest start is made first. The queue's virtual time is the start
of the pack that is being made, so it advances with the work and not with the clock. However slow
the machine is, someone who asks for two hundred packs delays their own, and someone who asks for
one comes next.
"""

from __future__ import annotations

from typing import Any, Literal

import sqlalchemy as sa

from worker.errors import FilesMissing, LimitReached, NotFound, NotReady, TooManyUnfinished
from worker.store.ledger.deleted_ids import note
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.packs import references
from worker.store.ledger.records import (
    FINAL_STATES,
    Bounds,
    EndedPack,
    NewPack,
    PackProgress,
    PackRow,
    attempt_key,
)
from worker.store.ledger.stored_answers import forget_answers
from worker.store.ledger.tables import OWNERS, PACKS, QUEUED
from worker.store.ledger.visibility import pack_seen_by
from worker.store.ledger.webhooks import outbox

_GONE = "There is no such pack."
FILES_MISSING = (
    "The pack was made, and its files are no longer on the service's disk: make it again, or "
    "have whoever runs the service put them back from a copy and then make it again."
)
Mark = Literal["printed_at", "joined_at"]


def to_pack(row: sa.Row[Any]) -> PackRow:
    """A database row as a value."""
    return PackRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name


def enqueue(connection: sa.Connection, new: NewPack, now: float) -> PackRow:
    """Ask for a pack.

    Raises:
        NotFound: The reference does not exist, or payer and owner may not use it; or the owner
            was deleted.
        LimitReached: The owner would have more packs or pages than the bounds allow.
        TooManyUnfinished: Too many of the owner's packs wait already.
    """
    asker_id = new.payer_id or new.owner_id
    references.for_pack(
        connection, new.reference_id, asker_id=asker_id, owner_id=new.owner_id, held=True
    )
    lock_owner(connection, new.owner_id)
    # `_take_place` locks the payer's row, so that one request at a time checks the bounds.
    values = _first_values(new, now) | {"virtual_time": _take_place(connection, new)}
    if new.bounds is not None:
        _check(connection, new, new.bounds)
    return to_pack(connection.execute(sa.insert(PACKS).values(**values).returning(PACKS)).one())


def usage(connection: sa.Connection, owner_id: str) -> tuple[int, int]:
    """How many packs someone asked for themselves, and how many sheets these have."""
    own = sa.and_(PACKS.c.owner_id == owner_id, PACKS.c.payer_id.is_(None))
    # Cancelled and failed packs used no paper.
    live = own & PACKS.c.state.not_in(("cancelled", "failed"))
    sums = sa.select(sa.func.count(), sa.func.coalesce(sa.func.sum(PACKS.c.total), 0))
    packs, pages = connection.execute(sums.where(live)).one()
    return int(packs), int(pages)


def get(connection: sa.Connection, pack_id: str, owner_id: str) -> PackRow:
    """Read a pack.

    Raises:
        NotFound: No such pack, or another owner's.
    """
    row = connection.execute(sa.select(PACKS).where(_mine(pack_id, owner_id))).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return to_pack(row)


def progress(connection: sa.Connection, ids: list[str], owner_id: str) -> list[PackProgress]:
    """Progress of these packs, without those that do not exist or belong to another owner."""
    columns = [PACKS.c[name] for name in PackProgress.__annotations__]
    mine = PACKS.c.id.in_(ids) & pack_seen_by(owner_id)
    rows = connection.execute(sa.select(*columns).where(mine))
    return [PackProgress(**row._mapping) for row in rows]  # noqa: SLF001 - as above


def cancel_or_delete(
    connection: sa.Connection, pack_id: str, owner_id: str, now: float, *, with_photo: bool
) -> EndedPack:
    """Cancel a pack that is not made yet; delete one that has ended.

    A pack that is being made becomes `cancelled` when the process that makes it has noticed.
    `with_photo` deletes the photo of a pack that is deleted too, if nothing else is made from it.

    Raises:
        NotFound: No such pack, or another owner's.
    """
    mine = _mine(pack_id, owner_id)
    row = connection.execute(sa.select(PACKS).where(mine).with_for_update()).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    if row.state in FINAL_STATES:
        connection.execute(sa.delete(PACKS).where(mine))
        forget_answers(connection, [pack_id])
        note(connection, [pack_id])
        photos = (
            references.remove_unused(connection, row.reference_id, owner_id) if with_photo else ()
        )
        return EndedPack(pack=None, keys=(f"packs/{pack_id}", *photos))
    change: dict[str, Any] = {"cancel_requested": True}
    if row.state == "queued":
        change |= {"state": "cancelled", "finished_at": now}
    changed = sa.update(PACKS).where(mine).values(**change).returning(PACKS)
    pack = to_pack(connection.execute(changed).one())
    if pack.state == "cancelled":
        outbox.packs_ended(connection, [pack_id], now)
    return EndedPack(pack=pack)


def mark(
    connection: sa.Connection, pack_id: str, owner_id: str, marks: dict[Mark, float | None]
) -> PackRow:
    """Record what people have done with a pack, or (None) that they have not.

    Raises:
        NotFound: No such pack, or another owner's.
        NotReady: It is not made yet.
    """
    if get(connection, pack_id, owner_id).state != "ready":
        raise NotReady("The pack is not made yet: nobody can have printed it.")
    if not marks:
        return get(connection, pack_id, owner_id)
    changed = sa.update(PACKS).where(_mine(pack_id, owner_id)).values(**marks).returning(PACKS)
    return to_pack(connection.execute(changed).one())


def live_attempts(connection: sa.Connection, ids: list[str]) -> set[str]:
    """Storage keys that these packs have, or that an attempt under way may publish."""
    rows = connection.execute(
        sa.select(PACKS.c.id, PACKS.c.files_key, PACKS.c.lease_token).where(PACKS.c.id.in_(ids))
    ).all()
    made = {row.files_key for row in rows if row.files_key}
    return made | {attempt_key(row.id, row.lease_token) for row in rows if row.lease_token}


def files_missing(connection: sa.Connection, pack_id: str, files_key: str, now: float) -> bool:
    """Record that a ready pack's files are missing. False: these are not its files any more."""
    mine = sa.and_(PACKS.c.id == pack_id, PACKS.c.state == "ready", PACKS.c.files_key == files_key)
    values = {
        "state": "failed",
        "files_key": None,
        "error_code": FilesMissing.code,
        "error_detail": FILES_MISSING,
    }
    failed = sa.update(PACKS).where(mine).values(**values).returning(PACKS)
    row = connection.execute(failed).one_or_none()
    if row is not None:
        outbox.pack_failed_or_ready(connection, row, now)
    return row is not None


def made_after(connection: sa.Connection, pack_id: str, count: int) -> tuple[tuple[str, str], ...]:
    """Ids and storage keys of packs that have files, in the order of ids, after this one."""
    # Not by state: the index of that has them in another order, and so they would all be sorted.
    made = sa.select(PACKS.c.id, PACKS.c.files_key).where(PACKS.c.files_key.is_not(None))
    rows = connection.execute(made.where(PACKS.c.id > pack_id).order_by(PACKS.c.id).limit(count))
    return tuple((row.id, row.files_key) for row in rows)


def _take_place(connection: sa.Connection, new: NewPack) -> float:
    """The virtual time of the pack's start; sets its payer's to its end, which locks their row."""
    making = sa.select(sa.func.max(PACKS.c.virtual_time)).where(PACKS.c.state == "making")
    queued = sa.select(sa.func.min(PACKS.c.virtual_time)).where(QUEUED)
    # Where no pack waits, the next one starts after all earlier ones.
    idle = sa.select(sa.func.max(OWNERS.c.virtual_time))
    times = [one.scalar_subquery() for one in (making, queued, idle)]
    served = float(connection.execute(sa.select(sa.func.coalesce(*times))).scalar_one())
    later = sa.case((OWNERS.c.virtual_time > served, OWNERS.c.virtual_time), else_=served)
    moved = (
        sa.update(OWNERS)
        .where(OWNERS.c.id == (new.payer_id or new.owner_id))
        .values(virtual_time=later + new.cost_s)
        .returning(OWNERS.c.virtual_time)
    )
    return float(connection.execute(moved).scalar_one()) - new.cost_s


def _check(connection: sa.Connection, new: NewPack, bounds: Bounds) -> None:
    """Check that the owner may have one more.

    Raises:
        TooManyUnfinished: Too many of their packs wait already.
        LimitReached: They would have more packs or pages than the bounds allow.
    """
    # Packs of a tutor's batch are not counted.
    own = sa.and_(PACKS.c.owner_id == new.owner_id, PACKS.c.payer_id.is_(None))
    waits = sa.and_(own, PACKS.c.state.in_(("queued", "making")))
    count = sa.select(sa.func.count()).where(waits)
    if bounds.unfinished is not None and (
        connection.execute(count).scalar_one() >= bounds.unfinished
    ):
        message = f"{bounds.unfinished} of your packs wait already: ask again when some are made."
        raise TooManyUnfinished(message)
    if bounds.packs is None and bounds.pages is None:
        return
    packs, pages = usage(connection, new.owner_id)
    if bounds.packs is not None and packs >= bounds.packs:
        message = f"Your class allows {bounds.packs} packs, and you have them: delete one first."
        raise LimitReached(message)
    if bounds.pages is not None and pages + new.total > bounds.pages:
        message = (
            f"Your class allows {bounds.pages} sheets in all. You have {pages}, and this pack "
            f"needs {new.total}."
        )
        raise LimitReached(message)


def _first_values(new: NewPack, now: float) -> dict[str, Any]:
    """All columns of a new pack except its virtual time."""
    return {
        "id": new.id,
        "owner_id": new.owner_id,
        "reference_id": new.reference_id,
        "title": new.title,
        "recipient": new.recipient,
        "spec": new.spec,
        "plan": new.plan,
        "state": "queued",
        "done": 0,
        "total": new.total,
        "step": "",
        "attempt": 0,
        "cancel_requested": False,
        "not_before": 0.0,
        "created_at": now,
        "delete_after": new.delete_after,
        "payer_id": new.payer_id if new.payer_id != new.owner_id else None,
        "request_id": new.request_id,
    }


def _mine(pack_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(PACKS.c.id == pack_id, pack_seen_by(owner_id))
