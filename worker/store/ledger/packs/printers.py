"""Printers that people measured: one row for one printer and one sheet format.

The readings from the test page are stored, and not the corrections computed from them, so that
a better computation applies to old readings too. A tutor may share a printer with a class, whose
students then see it; it still belongs to its owner, also when the class is deleted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger import erasing, idempotency
from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people import classes
from worker.store.ledger.records import IdempotentAnswer, PrinterRow
from worker.store.ledger.tables import PRINTERS
from worker.store.ledger.visibility import owned_or_taught, shared_with

#: The most printers of one person, so that a form sent over and over does not fill the disk.
MOST_PRINTERS = 50
_GONE = "There is no such printer."


class Printers:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(
        self, row: PrinterRow, most: int, idempotent: IdempotentAnswer | None = None
    ) -> PrinterRow:
        """Insert a printer; sets `created_at`.

        Raises:
            NotFound: Its owner was deleted meanwhile, or does not teach its class.
            LimitReached: Its owner has `most` already.
        """
        row = replace(row, created_at=self._clock())
        with self._database.writing() as connection:
            _check_room(connection, row.owner_id, most)
            if row.class_id is not None:
                classes.taught(connection, row.class_id, row.owner_id)
            connection.execute(sa.insert(PRINTERS).values(**asdict(row)))
            if idempotent is not None:
                idempotency.complete(
                    connection, idempotent.held_key, *idempotent.answer(row), self._clock()
                )
        return row

    def seen(self, who: str, page: Page | None = None) -> tuple[PrinterRow, ...]:
        """A person's printers, and those shared with a class of theirs; oldest first."""
        theirs = sa.or_(PRINTERS.c.owner_id == who, shared_with(PRINTERS.c.class_id, who))
        return self._every(theirs, page)

    def own(self, who: str) -> tuple[PrinterRow, ...]:
        """A person's own printers, oldest first."""
        return self._every(PRINTERS.c.owner_id == who)

    def get(self, printer_id: str, who: str) -> PrinterRow:
        """A printer that this person owns or that is shared with them, or raise NotFound."""
        mine = sa.or_(
            owned_or_taught(PRINTERS.c.owner_id, who), shared_with(PRINTERS.c.class_id, who)
        )
        with self._database.reading() as connection:
            return _one(connection, printer_id, mine)

    def change(
        self,
        printer_id: str,
        who: str,
        changes: dict[str, Any],
        check: Callable[[PrinterRow], None] | None = None,
    ) -> PrinterRow:
        """Change some of its columns.

        Args:
            printer_id: The printer.
            who: Its owner, or their tutor.
            changes: New values by column.
            check: Gets the row as it will be, with other requests' changes; if it raises an
                error, the row stays as it was.

        Raises:
            NotFound: No such printer, or another owner's; or a class that its owner does not
                teach.
        """
        mine = owned_or_taught(PRINTERS.c.owner_id, who)
        with self._database.writing() as connection:
            changed = replace(_one(connection, printer_id, mine, held=True), **changes)
            if changes.get("class_id") is not None:
                # The owner and not `who`: a tutor must not share a student's printer with a class.
                classes.taught(connection, changes["class_id"], changed.owner_id)
            if check is not None:
                check(changed)
            if changes:
                row = sa.update(PRINTERS).where(PRINTERS.c.id == printer_id)
                connection.execute(row.values(**changes))
            return changed

    def delete(self, printer_id: str, who: str) -> None:
        """Delete a printer of this person or a student of theirs, or raise NotFound."""

        def erase(connection: sa.Connection) -> None:
            _one(connection, printer_id, owned_or_taught(PRINTERS.c.owner_id, who), held=True)
            erasing.remove_printers(connection, PRINTERS.c.id == printer_id)

        self._database.delete_with_reserve(erase)

    def _every(
        self, which: sa.ColumnElement[bool], page: Page | None = None
    ) -> tuple[PrinterRow, ...]:
        mine = sa.select(PRINTERS).where(which)
        oldest = in_order(mine, PRINTERS.c.created_at, PRINTERS.c.id, page)
        with self._database.reading() as connection:
            return tuple(_to_printer(row) for row in connection.execute(oldest))


def _check_room(connection: sa.Connection, owner_id: str, most: int) -> None:
    lock_owner(connection, owner_id)
    own = sa.select(sa.func.count()).where(PRINTERS.c.owner_id == owner_id)
    if connection.execute(own).scalar_one() >= most:
        raise LimitReached(f"You have {most} printers, which is the most: delete one first.")


def _one(
    connection: sa.Connection,
    printer_id: str,
    which: sa.ColumnElement[bool],
    *,
    held: bool = False,
) -> PrinterRow:
    """A printer; `held` keeps others from changing it until this commits."""
    found = sa.select(PRINTERS).where(PRINTERS.c.id == printer_id, which)
    row = connection.execute(found.with_for_update() if held else found).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return _to_printer(row)


def _to_printer(row: Any) -> PrinterRow:
    return PrinterRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
