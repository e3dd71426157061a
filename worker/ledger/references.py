"""Photos that were taken in."""

from __future__ import annotations

from dataclasses import asdict, replace

import sqlalchemy as sa

from worker.errors import NotFound
from worker.ledger.rows import ReferenceRow
from worker.ledger.tables import PACKS, REFERENCES

#: Whoever asks wants one that is there, not all that ever were.
FEW = 10
_GONE = "There is no such reference."


def add(connection: sa.Connection, row: ReferenceRow, now: float) -> ReferenceRow:
    """Write a reference; its files must be in storage already."""
    row = replace(row, created_at=row.created_at or now)
    connection.execute(sa.insert(REFERENCES).values(**asdict(row)))
    return row


def get(connection: sa.Connection, reference_id: str, owner_id: str) -> ReferenceRow:
    """Read a reference.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    mine = sa.select(REFERENCES).where(_mine(reference_id, owner_id))
    row = connection.execute(mine).one_or_none()
    if row is None:
        raise NotFound(_GONE, field="reference_id")
    return ReferenceRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name


def of_bytes(connection: sa.Connection, sha256: str, owner_id: str) -> list[ReferenceRow]:
    """The owner's references of one photo's bytes, the newest first; few are enough."""
    same = sa.and_(REFERENCES.c.owner_id == owner_id, REFERENCES.c.sha256 == sha256)
    newest = (REFERENCES.c.created_at.desc(), REFERENCES.c.id)
    found = connection.execute(sa.select(REFERENCES).where(same).order_by(*newest).limit(FEW))
    return [ReferenceRow(**row._mapping) for row in found]  # noqa: SLF001 - SQLAlchemy's documented name


def delete(connection: sa.Connection, reference_id: str, owner_id: str) -> tuple[str, ...]:
    """Delete a reference and its packs; whoever makes one of them loses its lease.

    Returns:
        Keys of the files to delete.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    mine = _mine(reference_id, owner_id)
    found = connection.execute(sa.select(REFERENCES.c.id).where(mine).with_for_update())
    if found.one_or_none() is None:
        raise NotFound(_GONE)
    packs = sa.delete(PACKS).where(PACKS.c.reference_id == reference_id).returning(PACKS.c.id)
    pack_ids = connection.execute(packs).scalars().all()
    connection.execute(sa.delete(REFERENCES).where(mine))
    return (f"references/{reference_id}", *(f"packs/{pack_id}" for pack_id in pack_ids))


def known(connection: sa.Connection, ids: list[str]) -> set[str]:
    """Which of these ids are in the ledger."""
    found = sa.select(REFERENCES.c.id).where(REFERENCES.c.id.in_(ids))
    return set(connection.execute(found).scalars())


def _mine(reference_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(REFERENCES.c.id == reference_id, REFERENCES.c.owner_id == owner_id)
