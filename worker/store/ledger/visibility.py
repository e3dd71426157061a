"""Which rows a person may see, as conditions for statements about rows that have an owner.

People see their own rows; tutors also those of students in their classes. Any other row is
treated as if it did not exist, so nobody learns even that it is there.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.store.ledger.tables import BATCHES, CLASSES, OWNERS, PACKS, REFERENCES


def owned_or_taught(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The row's owner is `who`, or a student in one of their classes."""
    return sa.or_(owner == who, owner.in_(students_of(who)))


def students_of(tutor_id: str) -> sa.Select[tuple[str]]:
    """Ids of all students in a tutor's classes."""
    classes = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == tutor_id)
    return sa.select(OWNERS.c.id).where(OWNERS.c.class_id.in_(classes))


def lent_to(who: str) -> sa.ColumnElement[bool]:
    """The reference is their tutor's and lent to them: a pack of theirs is made from it."""
    theirs = sa.and_(PACKS.c.owner_id == who, PACKS.c.reference_id == REFERENCES.c.id)
    return sa.and_(_of_tutor(who), sa.select(PACKS.c.id).where(theirs).exists())


def usable_for_pack(asker_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    """A pack for this owner may be made from the reference, as this asker wants.

    The reference is the owner's; or their tutor's, if the tutor asks and so lends it, or has lent
    it before. It is never another student's, since a pack shows the photo to its owner.
    """
    lent = sa.or_(REFERENCES.c.owner_id == asker_id, lent_to(owner_id))
    return sa.or_(REFERENCES.c.owner_id == owner_id, sa.and_(_of_tutor(owner_id), lent))


def _of_tutor(student_id: str) -> sa.ColumnElement[bool]:
    """The reference belongs to a tutor of this student."""
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == student_id)
    tutor = sa.select(CLASSES.c.tutor_id).where(CLASSES.c.id.in_(joined))
    return REFERENCES.c.owner_id.in_(tutor)


def taught_or_attended(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """`who` teaches the class, or is on its roster."""
    taught = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == who)
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == who)
    return sa.or_(class_.in_(taught), class_.in_(joined))


def shared_with(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """The row is shared with a class that `who` teaches or attends."""
    return sa.and_(class_.is_not(None), taught_or_attended(class_, who))


def taught_batch(batch_id: str, tutor_id: str) -> sa.ColumnElement[bool]:
    """A batch of one of the tutor's classes."""
    return sa.and_(BATCHES.c.id == batch_id, taught_batches(tutor_id))


def taught_batches(tutor_id: str) -> sa.ColumnElement[bool]:
    """The batch is of one of the tutor's classes."""
    classes = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == tutor_id)
    return BATCHES.c.class_id.in_(classes)
