"""The log of what course sites did: who, what and when, by ids alone, for a bounded time.

The tutors of a class read the lines about their class, also those of a site that has gone; a
site's tutor reads all of its lines. Names, titles and external ids are never in it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace

import sqlalchemy as sa

from worker.errors import StorageFull
from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.people import classes
from worker.store.ledger.sites.records import LOG_S, LogRow
from worker.store.ledger.tables import (
    BATCHES,
    OWNERS,
    PACKS,
    PRINTERS,
    REFERENCES,
    SESSIONS,
    SITE_LOG,
)
from worker.store.ledger.tables import CLASSES as _CLASSES

#: Where the class of a thing is found, by the prefix of its id.
_OWNED = {"ref_": REFERENCES, "pck_": PACKS, "prn_": PRINTERS}


class SiteLog:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def class_of(self, ids: Sequence[str]) -> str | None:
        """The class that the first of these things belongs to which belongs to any.

        Asked before a thing is deleted, since nothing says it afterwards.
        """
        with self._database.reading() as connection:
            for one in ids:
                row = connection.execute(_class_of(one)).one_or_none()
                if row is not None and row[0] is not None:
                    return str(row[0])
        return None

    def add(self, line: LogRow) -> None:
        """Add a line; sets `at`. On a full disk there is none: what was done is done."""
        row = replace(line, at=self._clock())
        with suppress(StorageFull), self._database.writing() as connection:
            # The class may have been deleted meanwhile, and its lines with it.
            there = sa.select(_CLASSES.c.id).where(_CLASSES.c.id == row.class_id)
            if row.class_id is None or connection.execute(there).one_or_none() is not None:
                connection.execute(sa.insert(SITE_LOG).values(**vars(row)))

    def of_class(
        self, class_id: str, tutor_id: str, page: Page | None = None
    ) -> tuple[LogRow, ...]:
        """The lines about a class in which someone teaches, the newest first.

        Raises:
            NotFound: There is no such class, or they do not teach there.
        """
        with self._database.reading() as connection:
            classes.taught(connection, class_id, tutor_id)
            return _lines(connection, SITE_LOG.c.class_id == class_id, page)

    def of_site(self, site_id: str, page: Page | None = None) -> tuple[LogRow, ...]:
        """The lines of a site, the newest first; the caller has checked whose it is."""
        with self._database.reading() as connection:
            return _lines(connection, SITE_LOG.c.site_id == site_id, page)


def forget_old(connection: sa.Connection, now: float) -> None:
    """Delete the lines whose time is over."""
    connection.execute(sa.delete(SITE_LOG).where(SITE_LOG.c.at <= now - LOG_S))


def _lines(
    connection: sa.Connection, which: sa.ColumnElement[bool], page: Page | None
) -> tuple[LogRow, ...]:
    lines = sa.select(SITE_LOG).where(which)
    rows = connection.execute(
        in_order(lines, SITE_LOG.c.at, SITE_LOG.c.id, page, newest_first=True)
    )
    return tuple(LogRow(**row._mapping) for row in rows)  # noqa: SLF001 - SQLAlchemy's name


def _class_of(id_: str) -> sa.Select[tuple[str | None]]:
    prefix = id_[:4]
    if prefix in _OWNED:
        table = _OWNED[prefix]
        owner = sa.select(table.c.owner_id).where(table.c.id == id_)
        return sa.select(OWNERS.c.class_id).where(OWNERS.c.id.in_(owner))
    if prefix == "ses_":
        student = sa.select(SESSIONS.c.student_id).where(SESSIONS.c.id == id_)
        return sa.select(OWNERS.c.class_id).where(OWNERS.c.id.in_(student))
    if prefix == "bat_":
        return sa.select(BATCHES.c.class_id).where(BATCHES.c.id == id_)
    if prefix == "cls_":
        return sa.select(_CLASSES.c.id).where(_CLASSES.c.id == id_)
    return sa.select(OWNERS.c.class_id).where(OWNERS.c.id == id_)
