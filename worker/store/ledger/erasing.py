"""Deleting people and expired photos and packs, completely and in one transaction.

Deleted are photos, the packs made from them, packs, printers, keys, stored answers, lines of
batches, and the person's own row with their name. The caller gets the storage keys of the files
and deletes them at once; files that a power cut leaves have no row, and the sweeper deletes them.
"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from worker.store.ledger.database.savepoints import remove_each
from worker.store.ledger.deleted_ids import note
from worker.store.ledger.packs import references
from worker.store.ledger.records import LOCAL_OWNER
from worker.store.ledger.stored_answers import forget_answers
from worker.store.ledger.tables import (
    ACCESS_KEYS,
    BATCHES,
    CLASS_TUTORS,
    CLASSES,
    EXTERNAL_IDS,
    IDEMPOTENCY_KEYS,
    OWNERS,
    PACKS,
    PRINTERS,
    REFERENCES,
)
from worker.store.ledger.webhooks import outbox

#: At most this many rows are deleted in one transaction, so that other writers do not wait long.
_ROWS_AT_ONCE = 200
#: As many parameters as one statement may have on any database.
_CHUNK = 500


def erase(connection: sa.Connection, person_id: str) -> tuple[str, ...]:
    """Delete a person: a student, a course site, or a tutor with their classes.

    The row of `local` itself stays, since the service needs it.

    Returns:
        Keys of the files to delete.
    """
    keys: list[str] = []
    for class_id in _ids(connection, CLASSES.c.id, CLASSES.c.tutor_id == person_id):
        keys += erase_class(connection, class_id)
    sites = _ids(connection, OWNERS.c.id, OWNERS.c.tutor_id == person_id)
    keys += erase_owners(connection, [*sites, person_id])
    return tuple(keys)


def tutors_known(connection: sa.Connection, where: sa.ColumnElement[bool]) -> list[str]:
    """Ids of the tutors whom somebody else's system knows by ids of its own."""
    theirs = sa.and_(EXTERNAL_IDS.c.role == "tutor", where)
    return sorted(set(_ids(connection, EXTERNAL_IDS.c.person_id, theirs)))


def take_out_tutors(connection: sa.Connection, where: sa.ColumnElement[bool]) -> None:
    """Take those whom a system brought as tutors out of the classes into which it brought them.

    Who was brought there by another as well stays.

    Args:
        connection: The transaction.
        where: Which external ids; all are of one issuer.
    """
    other = EXTERNAL_IDS.alias()
    also = sa.exists().where(
        other.c.class_id == EXTERNAL_IDS.c.class_id,
        other.c.person_id == EXTERNAL_IDS.c.person_id,
        other.c.role == "tutor",
        other.c.issuer_id != EXTERNAL_IDS.c.issuer_id,
    )
    brought = sa.select(EXTERNAL_IDS.c.class_id, EXTERNAL_IDS.c.person_id).where(
        EXTERNAL_IDS.c.role == "tutor", where, sa.not_(also)
    )
    place = sa.tuple_(CLASS_TUTORS.c.class_id, CLASS_TUTORS.c.owner_id)
    connection.execute(sa.delete(CLASS_TUTORS).where(place.in_(brought)))


def drop_unreachable(connection: sa.Connection, tutors: Sequence[str], heir: str) -> None:
    """Delete those of these tutors as whom nobody can get in any more; `heir` gets what is theirs.

    They never had a key of their own, have no class of their own, and nobody knows them by another
    id. A key that a launch has led to is the platform's, not theirs.
    """
    own_key = sa.and_(ACCESS_KEYS.c.owner_id == OWNERS.c.id, ACCESS_KEYS.c.via_site.is_(None))
    reached = (
        sa.exists().where(own_key),
        sa.exists().where(CLASSES.c.tutor_id == OWNERS.c.id),
        sa.exists().where(EXTERNAL_IDS.c.person_id == OWNERS.c.id),
    )
    mine = sa.and_(OWNERS.c.id.in_(tutors), OWNERS.c.role == "tutor")
    gone = _ids(connection, OWNERS.c.id, sa.and_(mine, *map(sa.not_, reached)))
    hand_over(connection, gone, heir)
    erase_owners(connection, gone)


def hand_over(connection: sa.Connection, ids: Sequence[str], heir: str) -> None:
    """Make someone the owner of the photos, packs and printers of others who are deleted next."""
    for table in (REFERENCES, PACKS, PRINTERS):
        theirs = sa.update(table).where(table.c.owner_id.in_(ids))
        connection.execute(theirs.values(owner_id=heir))
    paid = sa.update(PACKS).where(PACKS.c.payer_id.in_(ids))
    connection.execute(paid.values(payer_id=heir))
    # A pack's payer is named only where it is not its owner.
    own = sa.update(PACKS).where(PACKS.c.owner_id == heir, PACKS.c.payer_id == heir)
    connection.execute(own.values(payer_id=None))


def erase_class(connection: sa.Connection, class_id: str) -> tuple[str, ...]:
    """Delete a class with its students and everything that they own; returns storage keys."""
    students = _ids(connection, OWNERS.c.id, OWNERS.c.class_id == class_id)
    known = tutors_known(connection, EXTERNAL_IDS.c.class_id == class_id)
    tutor = connection.execute(sa.select(CLASSES.c.tutor_id).where(CLASSES.c.id == class_id))
    heir = tutor.scalar_one()
    keys = erase_owners(connection, students)
    # Deleting the class deletes its batches and their lines too (ON DELETE CASCADE).
    batches = _ids(connection, BATCHES.c.id, BATCHES.c.class_id == class_id)
    connection.execute(sa.delete(CLASSES).where(CLASSES.c.id == class_id))
    note(connection, [class_id])
    forget_answers(connection, [*batches, class_id])
    drop_unreachable(connection, known, heir)
    return keys


def erase_owners(connection: sa.Connection, ids: Sequence[str]) -> tuple[str, ...]:
    """Delete these people and everything that they own; returns storage keys."""
    keys: list[str] = []
    for start in range(0, len(ids), _CHUNK):
        some = ids[start : start + _CHUNK]
        photos = _ids(connection, REFERENCES.c.id, REFERENCES.c.owner_id.in_(some))
        keys += references.remove(connection, photos)
        keys += remove_packs(connection, PACKS.c.owner_id.in_(some))
        paid = sa.update(PACKS).where(PACKS.c.payer_id.in_(some))
        connection.execute(paid.values(payer_id=None))
        remove_printers(connection, PRINTERS.c.owner_id.in_(some))
        connection.execute(sa.delete(IDEMPOTENCY_KEYS).where(IDEMPOTENCY_KEYS.c.owner_id.in_(some)))
        led_to = sa.or_(ACCESS_KEYS.c.owner_id.in_(some), ACCESS_KEYS.c.via_site.in_(some))
        connection.execute(sa.delete(ACCESS_KEYS).where(led_to))
        gone = sa.and_(OWNERS.c.id.in_(some), OWNERS.c.id != LOCAL_OWNER)
        deleted = sa.delete(OWNERS).where(gone).returning(OWNERS.c.id)
        note(connection, connection.execute(deleted).scalars().all())
        forget_answers(connection, [one for one in some if one != LOCAL_OWNER])
    return tuple(keys)


def remove_packs(connection: sa.Connection, which: sa.ColumnElement[bool]) -> tuple[str, ...]:
    """Delete packs; a process that makes one of them loses its lease. Returns storage keys."""
    waiting = outbox.unfinished_batches(connection, which)
    gone = connection.execute(sa.delete(PACKS).where(which).returning(PACKS.c.id)).scalars().all()
    outbox.batches_ended(connection, waiting)
    forget_answers(connection, gone)
    note(connection, gone)
    return tuple(f"packs/{one}" for one in gone)


def remove_printers(connection: sa.Connection, which: sa.ColumnElement[bool]) -> None:
    """Delete measured printers."""
    gone = sa.delete(PRINTERS).where(which).returning(PRINTERS.c.id)
    forget_answers(connection, connection.execute(gone).scalars().all())


def remove_few(
    connection: sa.Connection, which: sa.ColumnElement[bool], most: int
) -> tuple[str, ...]:
    """Delete at most `most` of these packs; returns storage keys, () where none is left."""
    first = sa.select(PACKS.c.id).where(which).limit(most)
    ids = list(connection.execute(first).scalars())
    return remove_packs(connection, PACKS.c.id.in_(ids)) if ids else ()


def packs_of(people: Sequence[str] | sa.Select[tuple[str]]) -> sa.ColumnElement[bool]:
    """Condition: the pack is one of these people's, or is made from one of their photos."""
    photos = sa.select(REFERENCES.c.id).where(REFERENCES.c.owner_id.in_(people))
    return sa.or_(PACKS.c.owner_id.in_(people), PACKS.c.reference_id.in_(photos))


def students_of(class_id: str) -> sa.Select[tuple[str]]:
    """Ids of a class's students."""
    return sa.select(OWNERS.c.id).where(OWNERS.c.class_id == class_id)


def people_under(person_id: str) -> sa.Select[tuple[str]]:
    """Ids of a person and of the people that are deleted with them."""
    taught = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == person_id)
    under = sa.or_(
        OWNERS.c.id == person_id, OWNERS.c.tutor_id == person_id, OWNERS.c.class_id.in_(taught)
    )
    return sa.select(OWNERS.c.id).where(under)


def expired_packs(now: float) -> sa.ColumnElement[bool]:
    """Condition: the retention time of the pack, or of its photo, is over."""
    late = sa.select(REFERENCES.c.id).where(_late_photo(now))
    return sa.or_(PACKS.c.delete_after <= now, PACKS.c.reference_id.in_(late))


def anything_expired(connection: sa.Connection, now: float) -> bool:
    """Whether any retention time is over; it is read first, so that an idle disk may sleep."""
    late = (
        (REFERENCES, _late_photo(now)),
        (PACKS, PACKS.c.delete_after <= now),
        (BATCHES, BATCHES.c.delete_after <= now),
    )
    found = (sa.select(table.c.id).where(where).limit(1) for table, where in late)
    return any(connection.execute(one).one_or_none() is not None for one in found)


def expire(connection: sa.Connection, now: float) -> tuple[str, ...]:
    """Delete some photos, packs and batches whose retention time is over.

    Call it again until it returns nothing. A row that cannot be deleted stays; the others are
    deleted all the same.

    Returns:
        Keys of the files to delete.
    """
    late = sa.select(REFERENCES.c.id).where(_late_photo(now)).limit(_ROWS_AT_ONCE)
    photos = connection.execute(late).scalars().all()
    keys = remove_each(connection, photos, references.remove)
    late = sa.select(PACKS.c.id).where(PACKS.c.delete_after <= now).limit(_ROWS_AT_ONCE)
    packs = connection.execute(late).scalars().all()
    keys += remove_each(connection, packs, lambda at, ids: remove_packs(at, PACKS.c.id.in_(ids)))
    batches = _ids(connection, BATCHES.c.id, BATCHES.c.delete_after <= now)
    return keys + remove_each(connection, batches, remove_batches)


def remove_batches(connection: sa.Connection, ids: Sequence[str]) -> tuple[str, ...]:
    """Delete batches with their lines. Their packs stay, so no storage keys are returned."""
    connection.execute(sa.delete(BATCHES).where(BATCHES.c.id.in_(ids)))
    forget_answers(connection, ids)
    note(connection, ids)
    return ()


def erase_again(connection: sa.Connection, ids: Sequence[str]) -> tuple[str, ...]:
    """Delete what is there of these ids of people, classes, batches, photos and packs.

    Returns:
        Keys of the files to delete.
    """
    keys: list[str] = []
    for class_id in _there(connection, CLASSES, ids):
        keys += erase_class(connection, class_id)
    for person_id in _there(connection, OWNERS, ids):
        # A tutor may have taken along a site, or a class its student, which is in the list too.
        keys += erase(connection, person_id)
    for start in range(0, len(ids), _CHUNK):
        some = ids[start : start + _CHUNK]
        remove_batches(connection, _there(connection, BATCHES, some))
        keys += references.remove(connection, _there(connection, REFERENCES, some))
        keys += remove_packs(connection, PACKS.c.id.in_(_there(connection, PACKS, some)))
    return tuple(keys)


def set_retention(connection: sa.Connection, class_id: str, seconds: float) -> None:
    """Set the retention time of what a class's students have, in seconds after it was made."""
    students = sa.select(OWNERS.c.id).where(OWNERS.c.class_id == class_id)
    for table in (REFERENCES, PACKS):
        theirs = sa.update(table).where(table.c.owner_id.in_(students))
        connection.execute(theirs.values(delete_after=table.c.created_at + seconds))
    batches = sa.update(BATCHES).where(BATCHES.c.class_id == class_id)
    connection.execute(batches.values(delete_after=BATCHES.c.created_at + seconds))


def _late_photo(now: float) -> sa.ColumnElement[bool]:
    """Condition: the photo's retention time is over, and no class that goes on shows it.

    A photo that such a picture was squared up from stays too: deleting it would delete both.
    """
    lasts = sa.or_(CLASSES.c.closes_at.is_(None), CLASSES.c.closes_at > now)
    shown = sa.select(CLASSES.c.picture_id.label("id")).where(
        lasts, CLASSES.c.picture_id.is_not(None)
    )
    kept = shown.cte("kept", recursive=True)
    origins = sa.select(REFERENCES.c.made_from).join(kept, kept.c.id == REFERENCES.c.id)
    kept = kept.union(origins.where(REFERENCES.c.made_from.is_not(None)))
    return sa.and_(REFERENCES.c.delete_after <= now, REFERENCES.c.id.not_in(sa.select(kept.c.id)))


def _there(connection: sa.Connection, table: sa.Table, ids: Sequence[str]) -> list[str]:
    """Those of these ids that a table has."""
    found: list[str] = []
    for start in range(0, len(ids), _CHUNK):
        some = table.c.id.in_(ids[start : start + _CHUNK])
        found += connection.execute(sa.select(table.c.id).where(some)).scalars()
    return found


def _ids(
    connection: sa.Connection, column: sa.Column[str], where: sa.ColumnElement[bool]
) -> list[str]:
    return list(connection.execute(sa.select(column).where(where)).scalars())
