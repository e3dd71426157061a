"""Packs as their owner sees them: ask, look, cancel, delete.

Fair order: every owner has a virtual time, and a new pack's place is
max(now, the owner's virtual time) + its cost. So whoever asks for two hundred packs
queues behind himself, and whoever asks for one comes soon.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound
from worker.ledger.rows import ENDED, Ended, NewPack, PackRow, attempt_key
from worker.ledger.tables import OWNERS, PACKS, REFERENCES

_GONE = "There is no such pack."


def to_pack(row: sa.Row[Any]) -> PackRow:
    """A database row as a value."""
    return PackRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name


def enqueue(connection: sa.Connection, new: NewPack, now: float) -> PackRow:
    """Ask for a pack.

    Raises:
        NotFound: The reference is not there, or another owner's.
    """
    mine = sa.and_(REFERENCES.c.id == new.reference_id, REFERENCES.c.owner_id == new.owner_id)
    # The share lock keeps a deletion of the reference out until this commits.
    held = sa.select(REFERENCES.c.id).where(mine).with_for_update(read=True)
    if connection.execute(held).one_or_none() is None:
        message = "There is no such reference."
        raise NotFound(message, field="reference_id")
    values = _first_values(new, now) | {"virtual_time": _take_place(connection, new, now)}
    return to_pack(connection.execute(sa.insert(PACKS).values(**values).returning(PACKS)).one())


def get(connection: sa.Connection, pack_id: str, owner_id: str) -> PackRow:
    """Read a pack.

    Raises:
        NotFound: No such pack, or another owner's.
    """
    row = connection.execute(sa.select(PACKS).where(_mine(pack_id, owner_id))).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return to_pack(row)


def cancel_or_delete(connection: sa.Connection, pack_id: str, owner_id: str, now: float) -> Ended:
    """Cancel a pack that is not made yet; delete one that has ended.

    A pack that is being made is asked to stop and is `cancelled` once its maker has
    looked.

    Raises:
        NotFound: No such pack, or another owner's.
    """
    mine = _mine(pack_id, owner_id)
    row = connection.execute(sa.select(PACKS).where(mine).with_for_update()).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    if row.state in ENDED:
        connection.execute(sa.delete(PACKS).where(mine))
        return Ended(pack=None, keys=(f"packs/{pack_id}",))
    change: dict[str, Any] = {"cancel_requested": True}
    if row.state == "queued":
        change |= {"state": "cancelled", "finished_at": now}
    changed = sa.update(PACKS).where(mine).values(**change).returning(PACKS)
    return Ended(pack=to_pack(connection.execute(changed).one()))


def live_attempts(connection: sa.Connection, ids: list[str]) -> set[str]:
    """Keys of the files that these packs have, or that their makers may still publish."""
    rows = connection.execute(
        sa.select(PACKS.c.id, PACKS.c.files_key, PACKS.c.lease_token).where(PACKS.c.id.in_(ids))
    ).all()
    made = {row.files_key for row in rows if row.files_key}
    return made | {attempt_key(row.id, row.lease_token) for row in rows if row.lease_token}


def _take_place(connection: sa.Connection, new: NewPack, now: float) -> float:
    """Move the owner's virtual time on and return it; the update locks the owner's row."""
    later = sa.case((OWNERS.c.virtual_time > now, OWNERS.c.virtual_time), else_=now)
    moved = (
        sa.update(OWNERS)
        .where(OWNERS.c.id == new.owner_id)
        .values(virtual_time=later + new.cost_s)
        .returning(OWNERS.c.virtual_time)
    )
    return float(connection.execute(moved).scalar_one())


def _first_values(new: NewPack, now: float) -> dict[str, Any]:
    """All columns of a new pack but its place."""
    return {
        "id": new.id,
        "owner_id": new.owner_id,
        "reference_id": new.reference_id,
        "title": new.title,
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
    }


def _mine(pack_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(PACKS.c.id == pack_id, PACKS.c.owner_id == owner_id)
