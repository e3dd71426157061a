"""References: photos that were sent, and pictures that were squared up from them."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger.deleted_ids import note
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.records import ReferenceRow
from worker.store.ledger.stored_answers import forget_answers
from worker.store.ledger.tables import CLASSES, PACKS, REFERENCES
from worker.store.ledger.visibility import owned_or_taught, reference_seen_by, usable_for_pack
from worker.store.ledger.webhooks import outbox

_GONE = "There is no such reference."


def to_reference(row: Any) -> ReferenceRow:
    """A database row as a value."""
    return ReferenceRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name


def add(
    connection: sa.Connection, row: ReferenceRow, now: float, most: int | None = None
) -> ReferenceRow:
    """Insert a reference; its files must be in storage already.

    Raises:
        NotFound: Its owner, or the reference that it was made from, was deleted meanwhile.
        LimitReached: Its owner has `most` already.
    """
    lock_owner(connection, row.owner_id)
    _check_origin(connection, row.made_from)
    if most is not None and count(connection, row.owner_id) >= most:
        message = f"Your class allows {most} photos, and you have them: delete one first."
        raise LimitReached(message)
    row = replace(row, created_at=row.created_at or now)
    connection.execute(sa.insert(REFERENCES).values(**asdict(row)))
    return row


def count(connection: sa.Connection, owner_id: str) -> int:
    """How many references a person has."""
    own = sa.select(sa.func.count()).where(REFERENCES.c.owner_id == owner_id)
    return int(connection.execute(own).scalar_one())


def get(connection: sa.Connection, reference_id: str, owner_id: str) -> ReferenceRow:
    """Read a reference that this person owns, or that a pack of theirs is made from.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    seen = sa.and_(REFERENCES.c.id == reference_id, reference_seen_by(owner_id))
    mine = sa.select(REFERENCES).where(seen)
    row = connection.execute(mine).one_or_none()
    if row is None:
        raise NotFound(_GONE, field="reference_id")
    return to_reference(row)


def for_pack(
    connection: sa.Connection,
    reference_id: str,
    *,
    asker_id: str,
    owner_id: str,
    held: bool = False,
) -> ReferenceRow:
    """Read a reference that a pack is to be made from.

    Args:
        connection: A transaction.
        reference_id: The reference.
        asker_id: Who asks for the pack (`Person.acting_id`).
        owner_id: Owner of the pack; they will see the photo in it.
        held: Lock the reference, so that it is not deleted until this commits.

    Raises:
        NotFound: It does not exist, or these two may not use it.
    """
    may = sa.select(REFERENCES).where(
        REFERENCES.c.id == reference_id, usable_for_pack(asker_id, owner_id)
    )
    row = connection.execute(may.with_for_update(read=True) if held else may).one_or_none()
    if row is not None:
        return to_reference(row)
    get(connection, reference_id, asker_id)
    raise NotFound("This is another student's photo.", field="reference_id")


def own(connection: sa.Connection, reference_id: str, owner_id: str) -> ReferenceRow:
    """Read a reference that this person owns and that is not only lent to them.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    mine = sa.select(REFERENCES).where(_mine(reference_id, owner_id))
    row = connection.execute(mine).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return to_reference(row)


def of_bytes(
    connection: sa.Connection, sha256: str, owner_id: str, page: Page | None = None
) -> list[ReferenceRow]:
    """The owner's references of one photo's bytes, the newest first."""
    same = sa.and_(REFERENCES.c.owner_id == owner_id, REFERENCES.c.sha256 == sha256)
    rows = sa.select(REFERENCES).where(same)
    newest = in_order(rows, REFERENCES.c.created_at, REFERENCES.c.id, page, newest_first=True)
    return [to_reference(row) for row in connection.execute(newest)]


def delete(connection: sa.Connection, reference_id: str, owner_id: str) -> tuple[str, ...]:
    """Delete a reference and all made from it; a pack that is being made loses its lease.

    Returns:
        Keys of the files to delete.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    mine = _mine(reference_id, owner_id)
    found = connection.execute(sa.select(REFERENCES.c.id).where(mine).with_for_update())
    if found.one_or_none() is None:
        raise NotFound(_GONE)
    return remove(connection, [reference_id])


def remove(connection: sa.Connection, ids: list[str]) -> tuple[str, ...]:
    """Delete references of any owner, with all made from them; returns storage keys."""
    ids = _with_descendants(connection, ids)
    theirs = PACKS.c.reference_id.in_(ids)
    waiting = outbox.unfinished_batches(connection, theirs)
    packs = sa.delete(PACKS).where(theirs).returning(PACKS.c.id)
    pack_ids = connection.execute(packs).scalars().all()
    outbox.batches_ended(connection, waiting)
    shown = sa.update(CLASSES).where(CLASSES.c.picture_id.in_(ids))
    connection.execute(shown.values(picture_id=None, picture=None))
    connection.execute(sa.delete(REFERENCES).where(REFERENCES.c.id.in_(ids)))
    forget_answers(connection, [*ids, *pack_ids])
    note(connection, [*ids, *pack_ids])
    return (*(f"references/{one}" for one in ids), *(f"packs/{one}" for one in pack_ids))


def delete_unused(connection: sa.Connection, reference_id: str, owner_id: str) -> tuple[str, ...]:
    """Delete a reference if nothing is made from it; returns storage keys.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    own(connection, reference_id, owner_id)
    return remove_unused(connection, reference_id, owner_id)


def remove_unused(
    connection: sa.Connection, reference_id: str | None, owner_id: str
) -> tuple[str, ...]:
    """Delete a reference from which nothing is made, and then the one that it was made from.

    Nothing is deleted that is used, or only lent to this person. Returns storage keys.
    """
    if reference_id is None:
        return ()
    mine = sa.select(REFERENCES.c.made_from).where(_mine(reference_id, owner_id))
    row = connection.execute(mine.with_for_update()).one_or_none()
    used = sa.or_(
        sa.exists().where(PACKS.c.reference_id == reference_id),
        sa.exists().where(REFERENCES.c.made_from == reference_id),
    )
    if row is None or connection.execute(sa.select(used)).scalar_one():
        return ()
    keys = remove(connection, [reference_id])
    return keys + remove_unused(connection, row.made_from, owner_id)


def made_from(
    connection: sa.Connection, reference_id: str, owner_id: str
) -> sa.ColumnElement[bool]:
    """Condition: the pack is deleted together with this reference.

    Raises:
        NotFound: No such reference, or another owner's.
    """
    own(connection, reference_id, owner_id)
    return PACKS.c.reference_id.in_(_with_descendants(connection, [reference_id]))


def known(connection: sa.Connection, ids: list[str]) -> set[str]:
    """Which of these ids are in the ledger."""
    found = sa.select(REFERENCES.c.id).where(REFERENCES.c.id.in_(ids))
    return set(connection.execute(found).scalars())


def _mine(reference_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(
        REFERENCES.c.id == reference_id, owned_or_taught(REFERENCES.c.owner_id, owner_id)
    )


def _check_origin(connection: sa.Connection, made_from: str | None) -> None:
    """Lock the reference that another is made from until this commits.

    Raises:
        NotFound: It was deleted.
    """
    origin = sa.select(REFERENCES.c.id).where(REFERENCES.c.id == made_from).with_for_update()
    if made_from is not None and connection.execute(origin).one_or_none() is None:
        raise NotFound(_GONE)


def _with_descendants(connection: sa.Connection, ids: list[str]) -> list[str]:
    """These ids, and those of all that was squared up from them, directly or not."""
    found, newest = list(ids), list(ids)
    while newest:
        # While they are locked, nothing more is made from them.
        locked = sa.select(REFERENCES.c.id).where(REFERENCES.c.id.in_(newest)).with_for_update()
        connection.execute(locked).all()
        made = sa.select(REFERENCES.c.id).where(REFERENCES.c.made_from.in_(newest))
        newest = [one for one in connection.execute(made).scalars() if one not in set(found)]
        found += newest
    return found
