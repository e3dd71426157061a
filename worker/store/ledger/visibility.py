"""Which rows a person may see, as conditions for statements about rows that have an owner.

People see their own rows. Tutors see those of the students in classes in which they teach, and
those of their course sites; course sites those of the students in the classes that they were
given. Photos and packs that a class's batch has are seen by all who teach in it. Any other row
is treated as if it did not exist, so nobody learns even that it is there.

Whether one pack or photo is seen is asked from that row on (EXISTS): its owner, their class, who
teaches there. A list of all that somebody sees, with the row looked for in it, costs the more
the more a tutor has, and PostgreSQL read whole tables for it.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.store.ledger.tables import (
    ACCESS_KEYS,
    BATCH_ITEMS,
    BATCHES,
    CLASS_TUTORS,
    CLASSES,
    OWNERS,
    PACKS,
    REFERENCES,
    SITES,
    WEBHOOKS,
)

# Names of their own, since the statements around these conditions name the tables too.
_OWN = CLASSES.alias("own_classes")
_OWNER = OWNERS.alias("its_owner")


def classes_of(who: str) -> sa.CompoundSelect[tuple[str]]:
    """Ids of the classes in which someone teaches: their own, and those they were added to."""
    # Not one SELECT with OR: for that all classes are read.
    added = sa.select(CLASS_TUTORS.c.class_id).where(CLASS_TUTORS.c.owner_id == who)
    return sa.union_all(sa.select(_OWN.c.id).where(_OWN.c.tutor_id == who), added)


def owned_or_taught(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The row's owner is `who`, a student in one of their classes, or one of their sites."""
    return sa.or_(_own(owner, who), owner.in_(students_of(who)))


def owned_by(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The row's owner is `who`, or one of their sites, and none of their students."""
    return _own(owner, who)


def students_of(who: str) -> sa.Select[tuple[str]]:
    """Ids of all students in the classes in which someone teaches."""
    return sa.select(OWNERS.c.id).where(OWNERS.c.class_id.in_(classes_of(who)))


def pack_seen_by(who: str) -> sa.ColumnElement[bool]:
    """The pack is theirs or a student's of theirs, or in a batch of a class in which they teach."""
    return sa.or_(_one_owned_or_taught(PACKS.c.owner_id, who), _batched("pack_id", PACKS, who))


def reference_seen_by(who: str) -> sa.ColumnElement[bool]:
    """The same for a reference; also one that is lent to them, or their class's picture."""
    return sa.or_(
        _one_owned_or_taught(REFERENCES.c.owner_id, who),
        lent_to(who),
        class_picture_of(who),
        _batched("reference_id", REFERENCES, who),
    )


def lent_to(who: str) -> sa.ColumnElement[bool]:
    """The reference is their tutor's and lent to them: a pack of theirs is made from it."""
    theirs = sa.and_(PACKS.c.owner_id == who, PACKS.c.reference_id == REFERENCES.c.id)
    return sa.and_(_of_tutor(who), sa.select(PACKS.c.id).where(theirs).exists())


def class_picture_of(who: str) -> sa.ColumnElement[bool]:
    """The reference is the picture of a class that `who` attends or teaches in."""
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == who)
    theirs = sa.or_(CLASSES.c.id.in_(joined), CLASSES.c.id.in_(classes_of(who)))
    return sa.select(CLASSES.c.id).where(CLASSES.c.picture_id == REFERENCES.c.id, theirs).exists()


def usable_for_pack(asker_id: str, owner_id: str) -> sa.ColumnElement[bool]:
    """A pack for this owner may be made from the reference, as this asker wants.

    The reference is the owner's, or their course site's; or their tutor's, if the tutor asks
    and so lends it, has lent it before, or has made it their class's picture. It is never
    another student's, since a pack shows the photo to its owner; and the asker sees it themself.
    """
    lent = sa.or_(
        _own(REFERENCES.c.owner_id, asker_id), lent_to(owner_id), class_picture_of(owner_id)
    )
    usable = sa.or_(_own(REFERENCES.c.owner_id, owner_id), sa.and_(_of_tutor(owner_id), lent))
    return sa.and_(usable, reference_seen_by(asker_id))


def taught_or_attended(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """`who` teaches in the class, or is on its roster."""
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == who)
    return sa.or_(class_.in_(classes_of(who)), class_.in_(joined))


def shared_with(class_: sa.ColumnElement[Any], who: str) -> sa.ColumnElement[bool]:
    """The row is shared with a class in which `who` teaches, or that they attend."""
    return sa.and_(class_.is_not(None), taught_or_attended(class_, who))


def taught_batch(batch_id: str, who: str) -> sa.ColumnElement[bool]:
    """A batch of a class in which `who` teaches."""
    return sa.and_(BATCHES.c.id == batch_id, taught_batches(who))


def taught_batches(who: str) -> sa.ColumnElement[bool]:
    """The batch is of a class in which `who` teaches."""
    return BATCHES.c.class_id.in_(classes_of(who))


def key_seen_by(who: str) -> sa.ColumnElement[bool]:
    """The key is theirs, or one of a course site of theirs."""
    return _own(ACCESS_KEYS.c.owner_id, who)


def webhook_seen_by(who: str) -> sa.ColumnElement[bool]:
    """The webhook is theirs, or one of a course site of theirs."""
    return _own(WEBHOOKS.c.owner_id, who)


def tutor_seen_by(who: str) -> sa.ColumnElement[bool]:
    """A tutor in a class in which `who` teaches too."""
    owners = sa.select(CLASSES.c.tutor_id).where(CLASSES.c.id.in_(classes_of(who)))
    added = sa.select(CLASS_TUTORS.c.owner_id).where(CLASS_TUTORS.c.class_id.in_(classes_of(who)))
    either = sa.or_(OWNERS.c.id.in_(owners), OWNERS.c.id.in_(added))
    return sa.and_(OWNERS.c.role == "tutor", either)


def _one_owned_or_taught(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The same as `owned_or_taught`, for one row."""
    taught = sa.and_(_OWNER.c.id == owner, _OWNER.c.class_id.in_(classes_of(who)))
    return sa.or_(_own(owner, who), sa.select(_OWNER.c.id).where(taught).exists())


def _own(owner: sa.ColumnElement[str], who: str) -> sa.ColumnElement[bool]:
    """The row is `who`'s, or belongs to a course site of theirs."""
    # The table of sites is small, and that of people has an index for this.
    sites = sa.select(SITES.c.id).join(OWNERS, OWNERS.c.id == SITES.c.id)
    return sa.or_(owner == who, owner.in_(sites.where(OWNERS.c.tutor_id == who)))


def _of_tutor(student_id: str) -> sa.ColumnElement[bool]:
    """The reference belongs to someone who teaches this student, or to a site of theirs."""
    joined = sa.select(OWNERS.c.class_id).where(OWNERS.c.id == student_id)
    tutor = sa.select(CLASSES.c.tutor_id).where(CLASSES.c.id.in_(joined))
    added = sa.select(CLASS_TUTORS.c.owner_id).where(CLASS_TUTORS.c.class_id.in_(joined))
    return sa.or_(REFERENCES.c.owner_id.in_(tutor), REFERENCES.c.owner_id.in_(added))


def _batched(column: str, table: sa.Table, who: str) -> sa.ColumnElement[bool]:
    """The row is a pack, or a photo, of a batch of a class in which someone teaches."""
    lines = sa.select(BATCH_ITEMS.c.batch_id).join(BATCHES, BATCHES.c.id == BATCH_ITEMS.c.batch_id)
    taught = BATCHES.c.class_id.in_(classes_of(who))
    return lines.where(BATCH_ITEMS.c[column] == table.c.id, taught).exists()
