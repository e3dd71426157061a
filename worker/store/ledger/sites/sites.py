"""Course sites: in which classes of their tutor they act, what they may do there, and how long.

A site's own row is one of `owners`: its keys are access keys like those of people, and what it
makes for nobody in particular is its own, and seen by its tutor. When it is deleted, that goes
to the tutor, so that no student loses a pack; students stay in the class.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger import erasing
from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people import access_keys
from worker.store.ledger.people.records import IssuedKey, Person
from worker.store.ledger.records import new_id
from worker.store.ledger.sites.records import SITE_S, NewSite, SiteRow
from worker.store.ledger.tables import (
    ACCESS_KEYS,
    CLASS_TUTORS,
    CLASSES,
    EXTERNAL_IDS,
    OWNERS,
    SITES,
)

#: Most sites of one tutor, so that a repeated request does not fill the disk.
MOST_SITES = 50
_GONE = "There is no such course site."
_LIMITS = frozenset({"scopes", "origins", "expires_at"})


class Sites:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(self, new: NewSite) -> tuple[SiteRow, IssuedKey]:
        """Insert a site with a key.

        Raises:
            NotFound: The tutor was deleted, or a class is not their own.
            LimitReached: They have `MOST_SITES` already.
        """
        now = self._clock()
        person = Person(
            id=new_id("sit_"), role="site", name=new.name, tutor_id=new.tutor_id, created_at=now
        )
        ends = now + SITE_S if new.expires_at is None else new.expires_at
        limits = {"scopes": list(new.scopes), "origins": list(new.origins), "expires_at": ends}
        with self._database.writing() as connection:
            lock_owner(connection, new.tutor_id)
            if len(_read(connection, OWNERS.c.tutor_id == new.tutor_id)) >= MOST_SITES:
                raise LimitReached(f"You have {MOST_SITES} course sites: delete one first.")
            connection.execute(sa.insert(OWNERS).values(**vars(person), virtual_time=0.0))
            connection.execute(sa.insert(SITES).values(id=person.id, **limits))
            _give(connection, person.id, new.tutor_id, new.class_ids, now)
            issued = access_keys.issue(connection, person.id, new.name, now)
            return _one(connection, SITES.c.id == person.id), issued

    def of_tutor(self, tutor_id: str, page: Page | None = None) -> tuple[SiteRow, ...]:
        """A tutor's sites, oldest first."""
        with self._database.reading() as connection:
            return _read(connection, OWNERS.c.tutor_id == tutor_id, page)

    def get(self, site_id: str, tutor_id: str) -> SiteRow:
        """A tutor's site, or raise NotFound."""
        with self._database.reading() as connection:
            return _one(connection, _theirs(site_id, tutor_id))

    def find(self, site_id: str) -> SiteRow:
        """A site, whosever it is, or raise NotFound; it may have expired."""
        with self._database.reading() as connection:
            return _one(connection, SITES.c.id == site_id)

    def change(self, site_id: str, tutor_id: str, changes: dict[str, Any]) -> SiteRow:
        """Change `name`, `class_ids`, `scopes`, `origins`, `expires_at`.

        What a site may no longer do, its sessions may not either, from the same moment; where it
        brings no tutors any more, those that it has brought are signed out.

        Raises:
            NotFound: The tutor has no such site, or a class is not their own.
        """
        limits = {name: value for name, value in changes.items() if name in _LIMITS}
        with self._database.writing() as connection:
            _one(connection, _theirs(site_id, tutor_id))
            if "name" in changes:
                named = sa.update(OWNERS).where(OWNERS.c.id == site_id)
                connection.execute(named.values(name=changes["name"]))
            if limits:
                connection.execute(sa.update(SITES).where(SITES.c.id == site_id).values(**limits))
            if "add-tutors" not in changes.get("scopes", ("add-tutors",)):
                access_keys.end_launched(connection, site_id)
            if "class_ids" in changes:
                given = CLASS_TUTORS.c.owner_id == site_id
                connection.execute(sa.delete(CLASS_TUTORS).where(given))
                _give(connection, site_id, tutor_id, changes["class_ids"], self._clock())
            return _one(connection, SITES.c.id == site_id)

    def delete(self, site_id: str, tutor_id: str) -> None:
        """Delete a site with its keys, sessions and external ids, or raise NotFound.

        Photos, packs and printers that are its own become its tutor's. Tutors whom it has
        brought teach in its classes no more. Those who could get in through it alone are
        deleted; what is theirs becomes its tutor's too.
        """

        def erase(connection: sa.Connection) -> None:
            _one(connection, _theirs(site_id, tutor_id))
            brought = erasing.tutors_known(connection, EXTERNAL_IDS.c.issuer_id == site_id)
            erasing.take_out_tutors(connection, EXTERNAL_IDS.c.issuer_id == site_id)
            erasing.hand_over(connection, [site_id], tutor_id)
            erasing.erase(connection, site_id)
            erasing.drop_unreachable(connection, brought, tutor_id)

        self._database.delete_with_reserve(erase)

    def names_origin(self, origin: str) -> bool:
        """Whether any site that has not expired has pages at this origin."""
        return any(origin in found for found in self._live_origins())

    def _live_origins(self) -> Sequence[list[str]]:
        live = sa.select(SITES.c.origins).where(SITES.c.expires_at > self._clock())
        with self._database.reading() as connection:
            return connection.execute(live).scalars().all()


def _theirs(site_id: str, tutor_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(SITES.c.id == site_id, OWNERS.c.tutor_id == tutor_id)


def _one(connection: sa.Connection, where: sa.ColumnElement[bool]) -> SiteRow:
    found = _read(connection, where)
    if not found:
        raise NotFound(_GONE)
    return found[0]


def _read(
    connection: sa.Connection, where: sa.ColumnElement[bool], page: Page | None = None
) -> tuple[SiteRow, ...]:
    used = sa.select(sa.func.max(ACCESS_KEYS.c.last_used_at)).where(
        ACCESS_KEYS.c.owner_id == SITES.c.id
    )
    named = [OWNERS.c[name] for name in ("tutor_id", "name", "created_at")]
    sites = (
        sa.select(SITES, *named, used.scalar_subquery().label("last_used_at"))
        .join_from(SITES, OWNERS, OWNERS.c.id == SITES.c.id)
        .where(where)
    )
    oldest = in_order(sites, OWNERS.c.created_at, OWNERS.c.id, page)
    return tuple(_to_site(connection, row) for row in connection.execute(oldest).all())


def _to_site(connection: sa.Connection, row: sa.Row[Any]) -> SiteRow:
    given = sa.select(CLASS_TUTORS.c.class_id).where(CLASS_TUTORS.c.owner_id == row.id)
    class_ids = connection.execute(given.order_by(CLASS_TUTORS.c.class_id)).scalars().all()
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
    lists = {name: tuple(values[name]) for name in ("scopes", "origins")}
    return SiteRow(**{**values, **lists, "class_ids": tuple(class_ids)})


def _give(
    connection: sa.Connection,
    site_id: str,
    tutor_id: str,
    class_ids: Sequence[str] | None,
    now: float,
) -> None:
    """Let a site act in classes that are its tutor's own; None: in all of them."""
    own = sa.select(CLASSES.c.id).where(CLASSES.c.tutor_id == tutor_id)
    there = set(connection.execute(own).scalars())
    for class_id in sorted(there if class_ids is None else set(class_ids)):
        if class_id not in there:
            message = "A course site acts in classes of your own: this is none of them."
            raise NotFound(message, field="class_ids")
        row = {"class_id": class_id, "owner_id": site_id, "created_at": now}
        connection.execute(sa.insert(CLASS_TUTORS).values(**row))
