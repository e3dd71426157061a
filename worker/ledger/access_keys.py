"""Access keys: issued once, kept as hashes, withdrawn for good."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound
from worker.ledger.codes import key_hash, new_key
from worker.ledger.owners import hold_owner
from worker.ledger.people_rows import AccessKey, IssuedKey, Person
from worker.ledger.rows import new_id
from worker.ledger.tables import ACCESS_KEYS, OWNERS

#: A key's last use is written down at most so often: whoever plans while a finger moves
#: must not write with every move.
_USED_EVERY_S = 3600.0
_PERSON = tuple(OWNERS.c[name] for name in Person.__annotations__)
_SHOWN = tuple(ACCESS_KEYS.c[name] for name in AccessKey.__annotations__)
LIVE = ACCESS_KEYS.c.withdrawn_at.is_(None)


def to_person(row: Any) -> Person:
    """A database row as a value."""
    return Person(**{name: row._mapping[name] for name in Person.__annotations__})  # noqa: SLF001 - SQLAlchemy's documented name


def issue(connection: sa.Connection, owner_id: str, label: str, now: float) -> IssuedKey:
    """Make a key for someone, or raise NotFound."""
    hold_owner(connection, owner_id)
    key = new_key()
    access = AccessKey(id=new_id("key_"), owner_id=owner_id, label=label, created_at=now)
    connection.execute(sa.insert(ACCESS_KEYS).values(**vars(access), hash=key_hash(key)))
    return IssuedKey(key=key, access=access)


def person_with(connection: sa.Connection, key: str, now: float) -> tuple[Person | None, bool]:
    """Whose key this is, and whether its use is worth writing down; None: nobody's."""
    live = sa.and_(ACCESS_KEYS.c.hash == key_hash(key), LIVE, OWNERS.c.withdrawn_at.is_(None))
    joined = ACCESS_KEYS.join(OWNERS, OWNERS.c.id == ACCESS_KEYS.c.owner_id)
    found = sa.select(*_PERSON, ACCESS_KEYS.c.last_used_at).select_from(joined).where(live)
    row = connection.execute(found).one_or_none()
    if row is None:
        return None, False
    used = row.last_used_at
    return to_person(row), used is None or used < now - _USED_EVERY_S


def note_use(connection: sa.Connection, key: str, now: float) -> None:
    """Write down that a key was used."""
    used = sa.update(ACCESS_KEYS).where(ACCESS_KEYS.c.hash == key_hash(key))
    connection.execute(used.values(last_used_at=now))


def of(connection: sa.Connection, owner_id: str) -> tuple[AccessKey, ...]:
    """Someone's keys that open, oldest first."""
    theirs = sa.select(*_SHOWN).where(ACCESS_KEYS.c.owner_id == owner_id, LIVE)
    rows = connection.execute(theirs.order_by(ACCESS_KEYS.c.created_at, ACCESS_KEYS.c.id))
    return tuple(AccessKey(**row._mapping) for row in rows)  # noqa: SLF001 - as above


def withdraw(
    connection: sa.Connection, owner_id: str, now: float, key_id: str | None = None
) -> None:
    """Withdraw one of someone's keys, or all of them.

    Raises:
        NotFound: They have no such key.
    """
    theirs = sa.and_(ACCESS_KEYS.c.owner_id == owner_id, LIVE)
    if key_id is not None:
        theirs = sa.and_(theirs, ACCESS_KEYS.c.id == key_id)
    changed = sa.update(ACCESS_KEYS).where(theirs).values(withdrawn_at=now)
    if connection.execute(changed).rowcount == 0 and key_id is not None:
        raise NotFound("There is no such key.")
