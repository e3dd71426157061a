"""Who sees what, as conditions that every statement about people's things carries.

One's own things; for a tutor also those of the students in their own classes. Nobody
else's: such a row is as good as absent, so a wrong owner learns nothing, not even that
there is something.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.ledger.tables import BATCHES, CLASSES, OWNERS, PACKS


def within(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The row's owner is `who`, or a student of theirs."""
    return sa.or_(owner == who, owner.in_(students_of(who)))


def students_of(tutor_id: str) -> sa.Select[tuple[str]]:
    """Ids of all students in a tutor's classes."""
    classes = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == tutor_id)
    return sa.select(OWNERS.c.id).where(OWNERS.c.class_id.in_(classes))


def borrowed(reference: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """A pack of `who`'s own is made from this reference."""
    packs = sa.select(PACKS.c.id).where(PACKS.c.owner_id == who, PACKS.c.reference_id == reference)
    return packs.exists()


def attended(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """The class is `who`'s: they teach it, or are on its roster."""
    taught = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == who)
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == who)
    return sa.or_(class_.in_(taught), class_.in_(joined))


def shared(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """A thing is shared with a class that is `who`'s; one without a class is with none."""
    return sa.and_(class_.is_not(None), attended(class_, who))


def taught_batch(batch_id: str, tutor_id: str) -> sa.ColumnElement[bool]:
    """A batch of one of the tutor's classes."""
    classes = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == tutor_id)
    return sa.and_(BATCHES.c.id == batch_id, BATCHES.c.class_id.in_(classes))
