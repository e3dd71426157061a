"""Access keys, which are stored as hashes, and sign-ins of browsers.

A browser does not store the key that it signs in with; it gets a secret of its own, so that
signing out ends that sign-in alone. A sign-in ends when it is not used for some time, and when
the key that it was opened with is withdrawn.

A key that a learning platform's launch has led to ends with the platform's site. A sign-in with it
ends some hours after the launch, since only another launch shows that the platform still says so.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger.deleted_ids import note
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people.credentials import key_hash, new_key, new_sign_in
from worker.store.ledger.people.records import AccessKey, IssuedKey, Person
from worker.store.ledger.records import new_id
from worker.store.ledger.tables import ACCESS_KEYS, OWNERS, SITES

#: A key's last use is recorded at most this often: a page that plans while a finger moves must
#: not write with every request.
_USED_EVERY_S = 3600.0
#: Most sign-ins of one person. Beyond that the oldest end, so that they do not fill the disk.
MOST_SIGN_INS = 50
#: Seconds that a sign-in from a launch lasts, used or not (our choice: a day at school).
LAUNCHED_S = 8 * 3600.0
PERSON = tuple(OWNERS.c[name] for name in Person.__annotations__)
_SHOWN = tuple(ACCESS_KEYS.c[name] for name in AccessKey.__annotations__)
LIVE = ACCESS_KEYS.c.withdrawn_at.is_(None)
_SIGN_IN = ACCESS_KEYS.c.opened_with.is_not(None)


def to_person(row: Any) -> Person:
    """A database row as a value."""
    return Person(**{name: row._mapping[name] for name in Person.__annotations__})  # noqa: SLF001 - SQLAlchemy's documented name


def issue(
    connection: sa.Connection, owner_id: str, label: str, now: float, via_site: str | None = None
) -> IssuedKey:
    """Make a key for someone, or raise NotFound; `via_site`: it goes with that site."""
    lock_owner(connection, owner_id)
    key = new_key()
    access = AccessKey(
        id=new_id("key_"), owner_id=owner_id, label=label, created_at=now, via_site=via_site
    )
    connection.execute(sa.insert(ACCESS_KEYS).values(**vars(access), hash=key_hash(key)))
    return IssuedKey(key=key, access=access)


def sign_in(connection: sa.Connection, key_id: str, now: float, lasts_s: float) -> IssuedKey:
    """Sign a browser in with a key, or raise NotFound."""
    parent = sa.select(ACCESS_KEYS).where(ACCESS_KEYS.c.id == key_id, LIVE, sa.not_(_SIGN_IN))
    held = connection.execute(parent.with_for_update()).one_or_none()
    if held is None:
        raise NotFound("There is no such key.")
    theirs = sa.and_(ACCESS_KEYS.c.owner_id == held.owner_id, _SIGN_IN)
    newest = sa.select(ACCESS_KEYS.c.id).where(theirs).order_by(ACCESS_KEYS.c.ends_at.desc())
    found = connection.execute(newest).scalars().all()
    _delete(connection, ACCESS_KEYS.c.id.in_(found[MOST_SIGN_INS - 1 :]))
    key = new_sign_in()
    access = AccessKey(
        id=new_id("key_"),
        owner_id=held.owner_id,
        label="",
        created_at=now,
        opened_with=key_id,
        ends_at=now + (lasts_s if held.via_site is None else min(lasts_s, LAUNCHED_S)),
        via_site=held.via_site,
    )
    connection.execute(sa.insert(ACCESS_KEYS).values(**vars(access), hash=key_hash(key)))
    return IssuedKey(key=key, access=access)


def sign_out(connection: sa.Connection, key: str) -> AccessKey | None:
    """Delete a browser's sign-in; None where there is none."""
    mine = sa.and_(ACCESS_KEYS.c.hash == key_hash(key), _SIGN_IN)
    row = connection.execute(sa.select(*_SHOWN).where(mine)).one_or_none()
    _delete(connection, mine)
    note(connection, [] if row is None else [row.id])
    return None if row is None else AccessKey(**row._mapping)  # noqa: SLF001 - as above


def end_launched(connection: sa.Connection, site_id: str) -> None:
    """End the sign-ins that a platform's launches have led to, whoever's they are."""
    _delete(connection, sa.and_(ACCESS_KEYS.c.via_site == site_id, _SIGN_IN))


def forget_ended(connection: sa.Connection, now: float) -> None:
    """Delete the sign-ins that have expired."""
    _delete(connection, ACCESS_KEYS.c.ends_at <= now)


def opened_by(
    connection: sa.Connection, key: str, now: float
) -> tuple[Person, AccessKey, bool] | None:
    """The key's person, the key, and whether its use should be recorded; None: it opens nothing.

    The caller asks whether the site of a launch has expired, so that it can say so.
    """
    live = sa.and_(
        _in_time(now), ACCESS_KEYS.c.hash == key_hash(key), OWNERS.c.withdrawn_at.is_(None)
    )
    joined = ACCESS_KEYS.join(OWNERS, OWNERS.c.id == ACCESS_KEYS.c.owner_id)
    shown = [column.label(f"key_{column.name}") for column in _SHOWN]
    found = sa.select(*PERSON, *shown).select_from(joined).where(live)
    row = connection.execute(found).one_or_none()
    if row is None:
        return None
    values = row._mapping  # noqa: SLF001 - SQLAlchemy's documented name
    access = AccessKey(**{name: values[f"key_{name}"] for name in AccessKey.__annotations__})
    used = access.last_used_at
    return to_person(row), access, used is None or used < now - _USED_EVERY_S


def note_use(connection: sa.Connection, access: AccessKey, now: float, lasts_s: float) -> None:
    """Record that a key was used; a browser's sign-in is renewed by it, unless it is a launch's."""
    renewed = access.is_sign_in and access.via_site is None
    values = {"last_used_at": now} | ({"ends_at": now + lasts_s} if renewed else {})
    used = sa.update(ACCESS_KEYS).where(ACCESS_KEYS.c.id == access.id)
    connection.execute(used.values(**values))


def of(
    connection: sa.Connection, owner_id: str, now: float, page: Page | None = None
) -> tuple[AccessKey, ...]:
    """A person's valid keys and sign-ins, oldest first."""
    theirs = sa.select(*_SHOWN).where(ACCESS_KEYS.c.owner_id == owner_id, opens(now))
    oldest = in_order(theirs, ACCESS_KEYS.c.created_at, ACCESS_KEYS.c.id, page)
    rows = connection.execute(oldest)
    return tuple(AccessKey(**row._mapping) for row in rows)  # noqa: SLF001 - as above


def withdraw(
    connection: sa.Connection, owner_id: str, now: float, key_id: str | None = None
) -> None:
    """Withdraw one of a person's keys, or all, with the sign-ins that were opened with them.

    Raises:
        NotFound: They have no such key.
    """
    theirs = sa.and_(ACCESS_KEYS.c.owner_id == owner_id, LIVE)
    gone = sa.and_(ACCESS_KEYS.c.owner_id == owner_id, _SIGN_IN)
    if key_id is not None:
        theirs = sa.and_(theirs, ACCESS_KEYS.c.id == key_id)
        gone = sa.and_(
            gone, sa.or_(ACCESS_KEYS.c.id == key_id, ACCESS_KEYS.c.opened_with == key_id)
        )
    changed = sa.update(ACCESS_KEYS).where(theirs).values(withdrawn_at=now)
    withdrawn = connection.execute(changed.returning(ACCESS_KEYS.c.id)).scalars().all()
    if not withdrawn and key_id is not None:
        raise NotFound("There is no such key.")
    note(connection, withdrawn)
    _delete(connection, gone)


def opens(now: float) -> sa.ColumnElement[bool]:
    """Condition: neither the key nor the site that it came from is withdrawn or expired."""
    live = sa.select(SITES.c.id).where(SITES.c.expires_at > now)
    via_site = ACCESS_KEYS.c.via_site
    return sa.and_(_in_time(now), sa.or_(via_site.is_(None), via_site.in_(live)))


def _in_time(now: float) -> sa.ColumnElement[bool]:
    ends_at = ACCESS_KEYS.c.ends_at
    return sa.and_(LIVE, sa.or_(ends_at.is_(None), ends_at > now))


def _delete(connection: sa.Connection, which: sa.ColumnElement[bool]) -> None:
    connection.execute(sa.delete(ACCESS_KEYS).where(which))
