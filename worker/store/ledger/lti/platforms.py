"""Platforms that the operator has registered, and the classes that their courses are here.

A platform acts as a course site of one tutor: its students have sessions as those of any site, the
tutor sees it among their sites, and deleting that site ends the platform.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger.database.database import Database
from worker.store.ledger.lti.records import ContextRow, NewPlatform, PlatformRow
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people.access_keys import LIVE
from worker.store.ledger.people.classes import NewClass, owned
from worker.store.ledger.people.credentials import new_code
from worker.store.ledger.records import new_id
from worker.store.ledger.sites.records import LONGEST_SITE_S, NewSite, Scope
from worker.store.ledger.sites.sites import Sites
from worker.store.ledger.tables import (
    ACCESS_KEYS,
    CLASS_TUTORS,
    CLASSES,
    LTI_CONTEXTS,
    OWNERS,
    PLATFORMS,
)

#: Most courses of one platform, so that a platform gone wrong does not fill the disk.
MOST_CONTEXTS = 2000
#: What a platform's site may do: what its students may in their sessions, and the roster.
PLATFORM_SCOPES: tuple[Scope, ...] = (
    "read-class",
    "add-students",
    "add-tutors",
    "start-sessions",
    "make-packs",
    "fetch-packs",
    "delete-packs",
)
_NO_PLATFORM = "There is no such platform."
_LISTS = ("deployment_ids", "origins", "service_hosts")


class Platforms:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float], sites: Sites) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites

    def add(self, new: NewPlatform) -> PlatformRow:
        """Register a platform, with a course site of its tutor for it.

        Raises:
            NotFound: There is no such tutor.
            LimitReached: The issuer's client is registered already, or the tutor has too many
                sites.
        """
        if self.registered(new.issuer, new.client_id):
            raise LimitReached("This client of this issuer is registered already.")
        site, _ = self._sites.add(
            NewSite(
                tutor_id=new.tutor_id,
                name=new.name,
                class_ids=(),
                scopes=PLATFORM_SCOPES,
                expires_at=self._clock() + LONGEST_SITE_S,
            )
        )
        given = {name: value for name, value in vars(new).items() if name in PLATFORMS.c}
        row = PlatformRow(id=new_id("plf_"), site_id=site.id, created_at=self._clock(), **given)
        values = {**vars(row), **{name: list(getattr(row, name)) for name in _LISTS}}
        with self._database.writing() as connection:
            connection.execute(sa.insert(PLATFORMS).values(**values))
        return row

    def change_hosts(
        self, platform_id: str, hosts: Collection[str], gone: Collection[str] = ()
    ) -> PlatformRow:
        """Name further hosts of a platform's services, and take others away.

        Raises:
            NotFound: There is no such platform.
        """
        one = PLATFORMS.c.id == platform_id
        with self._database.writing() as connection:
            row = connection.execute(sa.select(PLATFORMS).where(one).with_for_update())
            found = row.one_or_none()
            if found is None:
                raise NotFound(_NO_PLATFORM)
            named = dict.fromkeys((*found.service_hosts, *hosts))
            kept = [host for host in named if host not in gone]
            connection.execute(sa.update(PLATFORMS).where(one).values(service_hosts=kept))
        return self.get(platform_id)

    def all(self) -> tuple[PlatformRow, ...]:
        """Every platform, the oldest first."""
        oldest = sa.select(PLATFORMS).order_by(PLATFORMS.c.created_at, PLATFORMS.c.id)
        with self._database.reading() as connection:
            return tuple(map(_to_platform, connection.execute(oldest)))

    def registered(self, issuer: str, client_id: str | None = None) -> tuple[PlatformRow, ...]:
        """The platforms of an issuer; with a client's id, that one or none."""
        theirs = sa.select(PLATFORMS).where(PLATFORMS.c.issuer == issuer)
        if client_id is not None:
            theirs = theirs.where(PLATFORMS.c.client_id == client_id)
        with self._database.reading() as connection:
            return tuple(map(_to_platform, connection.execute(theirs)))

    def get(self, platform_id: str) -> PlatformRow:
        """A platform, or raise NotFound."""
        one = sa.select(PLATFORMS).where(PLATFORMS.c.id == platform_id)
        with self._database.reading() as connection:
            row = connection.execute(one).one_or_none()
        if row is None:
            raise NotFound(_NO_PLATFORM)
        return _to_platform(row)

    def site_key(self, site_id: str) -> str | None:
        """The id of a live key of its site, on which its sessions stand; None: all withdrawn."""
        live = sa.select(ACCESS_KEYS.c.id).where(ACCESS_KEYS.c.owner_id == site_id, LIVE)
        with self._database.reading() as connection:
            found: str | None = connection.execute(
                live.order_by(ACCESS_KEYS.c.created_at).limit(1)
            ).scalar_one_or_none()
        return found

    def context(self, platform_id: str, deployment_id: str, context_id: str) -> ContextRow | None:
        """A course's class; None: nobody has opened it here, or the class was deleted."""
        with self._database.reading() as connection:
            return _context(connection, platform_id, deployment_id, context_id)

    def context_of_class(self, platform_id: str, class_id: str) -> ContextRow:
        """The course of a platform that is this class, or raise NotFound.

        Where several courses are one class, the one whose members were noted comes first.
        """
        here = sa.and_(
            LTI_CONTEXTS.c.platform_id == platform_id, LTI_CONTEXTS.c.class_id == class_id
        )
        found = sa.select(LTI_CONTEXTS).where(here).order_by(
            LTI_CONTEXTS.c.members_url.is_(None), LTI_CONTEXTS.c.context_id
        )  # fmt: skip
        with self._database.reading() as connection:
            row = connection.execute(found.limit(1)).one_or_none()
        if row is None:
            raise NotFound("This class is no course of the platform any more.")
        return ContextRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name

    def open_context(
        self, platform: PlatformRow, deployment_id: str, context_id: str, name: str
    ) -> ContextRow:
        """A course's class; made with this name where there is none.

        Raises:
            LimitReached: The platform has too many.
        """
        place = (platform.id, deployment_id, context_id)
        with self._database.writing() as connection:
            # Two tutors who open a course at the same moment open one class.
            lock_owner(connection, platform.site_id)
            known = _context(connection, *place)
            if known is not None:
                return known
            _check_room(connection, platform.id)
            class_id = _make_class(connection, platform.site_id, name, self._clock())
            return _bind(connection, platform, place, class_id, self._clock())

    def bind(
        self, platform: PlatformRow, deployment_id: str, context_id: str, class_id: str
    ) -> ContextRow:
        """Have a course be a class that is there already, of the platform's own tutor.

        Raises:
            NotFound: It is no class of that tutor.
        """
        place = (platform.id, deployment_id, context_id)
        with self._database.writing() as connection:
            lock_owner(connection, platform.site_id)
            tutor = sa.select(OWNERS.c.tutor_id).where(OWNERS.c.id == platform.site_id)
            owned(connection, class_id, connection.execute(tutor).scalar_one())
            connection.execute(sa.delete(LTI_CONTEXTS).where(_at(*place)))
            return _bind(connection, platform, place, class_id, self._clock())

    def note_members(self, context: ContextRow, members_url: str) -> None:
        """Note where a course's members are listed."""
        here = _at(context.platform_id, context.deployment_id, context.context_id)
        with self._database.writing() as connection:
            connection.execute(sa.update(LTI_CONTEXTS).where(here).values(members_url=members_url))


def _to_platform(row: sa.Row[Any]) -> PlatformRow:
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
    return PlatformRow(**{**values, **{name: tuple(values[name]) for name in _LISTS}})


def _at(platform_id: str, deployment_id: str, context_id: str) -> sa.ColumnElement[bool]:
    return sa.and_(
        LTI_CONTEXTS.c.platform_id == platform_id,
        LTI_CONTEXTS.c.deployment_id == deployment_id,
        LTI_CONTEXTS.c.context_id == context_id,
    )


def _context(
    connection: sa.Connection, platform_id: str, deployment_id: str, context_id: str
) -> ContextRow | None:
    found = sa.select(LTI_CONTEXTS).where(_at(platform_id, deployment_id, context_id))
    row = connection.execute(found).one_or_none()
    return None if row is None else ContextRow(**row._mapping)  # noqa: SLF001 - as above


def _check_room(connection: sa.Connection, platform_id: str) -> None:
    counted = sa.select(sa.func.count()).where(LTI_CONTEXTS.c.platform_id == platform_id)
    if connection.execute(counted).scalar_one() >= MOST_CONTEXTS:
        raise LimitReached(f"This platform has {MOST_CONTEXTS} courses here already.")


def _make_class(connection: sa.Connection, site_id: str, name: str, now: float) -> str:
    tutor = sa.select(OWNERS.c.tutor_id).where(OWNERS.c.id == site_id)
    new = NewClass(tutor_id=connection.execute(tutor).scalar_one(), name=name)
    row = {
        **vars(new),
        "id": new_id("cls_"),
        "join_code": new_code(),
        "settings": new.settings.to_json(),
        "created_at": now,
    }
    connection.execute(sa.insert(CLASSES).values(**row))
    return str(row["id"])


def _bind(
    connection: sa.Connection,
    platform: PlatformRow,
    place: tuple[str, str, str],
    class_id: str,
    now: float,
) -> ContextRow:
    given = sa.and_(
        CLASS_TUTORS.c.class_id == class_id, CLASS_TUTORS.c.owner_id == platform.site_id
    )
    if connection.execute(sa.select(CLASS_TUTORS.c.class_id).where(given)).first() is None:
        row = {"class_id": class_id, "owner_id": platform.site_id, "created_at": now}
        connection.execute(sa.insert(CLASS_TUTORS).values(**row))
    names = ("platform_id", "deployment_id", "context_id")
    bound = ContextRow(**dict(zip(names, place, strict=True)), class_id=class_id)
    connection.execute(sa.insert(LTI_CONTEXTS).values(**vars(bound)))
    return bound
