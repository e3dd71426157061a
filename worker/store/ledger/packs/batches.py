"""Batches: packs for a class that are asked for, watched and cancelled together.

All packs of a batch are inserted in one transaction, so a batch is never incomplete. In the fair
order they are charged to the tutor, so that a student who asks for one pack comes next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger import erasing, idempotency
from worker.store.ledger.database.database import Database
from worker.store.ledger.disk.deletions import delete
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.packs import packs
from worker.store.ledger.people import classes
from worker.store.ledger.people.records import BatchItemRow, BatchRow
from worker.store.ledger.records import FINAL_STATES, IdempotentAnswer, Json, NewPack, PackState
from worker.store.ledger.tables import BATCH_ITEMS, BATCHES, OWNERS, PACKS
from worker.store.ledger.visibility import taught_batch, taught_batches
from worker.store.ledger.webhooks import outbox

_GONE = "There is no such batch."


@dataclass(frozen=True, kw_only=True)
class NewItem:
    """A new line of a batch; without `pack`, `row` has the reason why there is none."""

    row: BatchItemRow
    pack: NewPack | None = None


@dataclass(frozen=True, kw_only=True)
class PackSummary:
    """A pack for lists of many packs: all but spec and plan, which are long."""

    id: str
    number: str | None
    state: PackState
    done: int
    total: int
    step: str
    error_code: str | None
    error_detail: str | None
    printed_at: float | None
    joined_at: float | None
    warnings: tuple[Json, ...] = ()


@dataclass(frozen=True, kw_only=True)
class BatchItem:
    """One line of a batch as its tutor sees it, in roster order.

    Attributes:
        student_name: As on the roster now; empty where the line is for no student.
        pack: None where none was asked for, or it has been deleted.
    """

    row: BatchItemRow
    student_name: str
    pack: PackSummary | None


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A batch with all its lines."""

    row: BatchRow
    items: tuple[BatchItem, ...]

    @property
    def unfinished(self) -> int:
        """How many packs are not made yet."""
        return sum(
            one.pack is not None and one.pack.state not in FINAL_STATES for one in self.items
        )


@dataclass(frozen=True, kw_only=True)
class BatchProgress:
    """How far a batch is, without its lines.

    Attributes:
        counts: How many lines are in each state, by its name; `missing` have no pack.
        done, total: Pieces made, and in all.
        cancelled: Whether it was cancelled.
    """

    id: str
    counts: tuple[tuple[str, int], ...]
    done: int
    total: int
    cancelled: bool

    @property
    def ended(self) -> bool:
        """Every pack has ended."""
        return not {state for state, _ in self.counts} & {"queued", "making"}


class Batches:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(
        self,
        batch: BatchRow,
        tutor_id: str,
        items: Sequence[NewItem],
        idempotent: IdempotentAnswer | None = None,
    ) -> Batch:
        """Insert a batch and its packs; sets `created_at`.

        Raises:
            NotFound: The tutor has no such class, or a photo may not be used.
        """
        now = self._clock()
        batch = replace(batch, created_at=now)
        with self._database.writing() as connection:
            classes.taught(connection, batch.class_id, tutor_id)
            connection.execute(sa.insert(BATCHES).values(**vars(batch)))
            for item in items:
                if item.pack is not None:
                    packs.enqueue(connection, item.pack, now)
                connection.execute(sa.insert(BATCH_ITEMS).values(**vars(item.row)))
            outbox.batch_made(connection, batch.id, now)
            made = _read(connection, batch)
            if idempotent is not None:
                idempotency.complete(connection, idempotent.held_key, *idempotent.answer(made), now)
            return made

    def get(self, batch_id: str, tutor_id: str) -> Batch:
        """A batch of one of the tutor's classes, or raise NotFound."""
        with self._database.reading() as connection:
            return _read(connection, _taught(connection, batch_id, tutor_id))

    def of_class(self, class_id: str, tutor_id: str, page: Page | None = None) -> tuple[Batch, ...]:
        """The batches of a tutor's class, newest first, or raise NotFound."""
        theirs = sa.select(BATCHES).where(BATCHES.c.class_id == class_id)
        newest = in_order(theirs, BATCHES.c.created_at, BATCHES.c.id, page, newest_first=True)
        with self._database.reading() as connection:
            classes.taught(connection, class_id, tutor_id)
            return _read_all(connection, [_to_batch(row) for row in connection.execute(newest)])

    def progress(self, asked: dict[str, list[str]]) -> dict[tuple[str, str], BatchProgress]:
        """Progress of batches, by tutor and id; `asked` has the ids that each tutor follows.

        Batches that do not exist, or that the tutor does not teach, are left out.
        """
        with self._database.reading() as connection:
            return {
                (tutor_id, found.id): found
                for tutor_id, ids in asked.items()
                for found in _progress(connection, BATCHES.c.id.in_(ids) & taught_batches(tutor_id))
            }

    def cancel(self, batch_id: str, tutor_id: str) -> Batch:
        """Cancel the packs that are not made yet, or raise NotFound."""
        now = self._clock()

        def cancel(connection: sa.Connection) -> Batch:
            row = _taught(connection, batch_id, tutor_id)
            theirs = PACKS.c.id.in_(_pack_ids(batch_id))
            making = sa.and_(theirs, PACKS.c.state == "making")
            queued = sa.and_(theirs, PACKS.c.state == "queued")
            connection.execute(sa.update(PACKS).where(making).values(cancel_requested=True))
            ended = {"state": "cancelled", "finished_at": now, "cancel_requested": True}
            cancelled = sa.update(PACKS).where(queued).values(**ended).returning(PACKS.c.id)
            outbox.packs_ended(connection, connection.execute(cancelled).scalars().all(), now)
            marked = sa.update(BATCHES).where(BATCHES.c.id == batch_id)
            connection.execute(marked.values(cancelled_at=now))
            return _read(connection, replace(row, cancelled_at=now))

        return self._database.write_with_reserve(cancel)

    def delete(self, batch_id: str, tutor_id: str) -> tuple[str, ...]:
        """Delete a batch with its packs; returns keys of files, or raises NotFound."""

        def erase(connection: sa.Connection) -> tuple[str, ...]:
            _taught(connection, batch_id, tutor_id)
            found = list(connection.execute(_pack_ids(batch_id)).scalars())
            deleted = erasing.remove_packs(connection, PACKS.c.id.in_(found))
            erasing.remove_batches(connection, [batch_id])
            return deleted

        def theirs(connection: sa.Connection) -> sa.ColumnElement[bool]:
            _taught(connection, batch_id, tutor_id)
            return PACKS.c.id.in_(_pack_ids(batch_id))

        return delete(self._database, erase, theirs)


def _taught(connection: sa.Connection, batch_id: str, tutor_id: str) -> BatchRow:
    where = taught_batch(batch_id, tutor_id)
    row = connection.execute(sa.select(BATCHES).where(where)).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return _to_batch(row)


def _progress(connection: sa.Connection, which: sa.ColumnElement[bool]) -> list[BatchProgress]:
    """The progress of batches, counted by the database."""
    counted = (
        sa.select(
            BATCHES.c.id,
            BATCHES.c.cancelled_at,
            PACKS.c.state,
            sa.func.count(BATCH_ITEMS.c.position).label("lines"),
            sa.func.coalesce(sa.func.sum(PACKS.c.done), 0).label("done"),
            sa.func.coalesce(sa.func.sum(PACKS.c.total), 0).label("total"),
        )
        .select_from(BATCHES)
        .outerjoin(BATCH_ITEMS, BATCH_ITEMS.c.batch_id == BATCHES.c.id)
        .outerjoin(PACKS, PACKS.c.id == BATCH_ITEMS.c.pack_id)
        .where(which)
        .group_by(BATCHES.c.id, BATCHES.c.cancelled_at, PACKS.c.state)
    )
    rows: dict[str, list[sa.Row[Any]]] = {}
    for row in connection.execute(counted):
        rows.setdefault(row.id, []).append(row)
    return [
        BatchProgress(
            id=batch_id,
            counts=tuple(sorted((one.state or "missing", one.lines) for one in found if one.lines)),
            done=sum(int(one.done) for one in found),
            total=sum(int(one.total) for one in found),
            cancelled=found[0].cancelled_at is not None,
        )
        for batch_id, found in rows.items()
    ]


def _to_batch(row: sa.Row[Any]) -> BatchRow:
    return BatchRow(**row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name


def _pack_ids(batch_id: str) -> sa.Select[tuple[str]]:
    theirs = BATCH_ITEMS.c.batch_id == batch_id
    return sa.select(BATCH_ITEMS.c.pack_id).where(theirs, BATCH_ITEMS.c.pack_id.is_not(None))


def _read(connection: sa.Connection, batch: BatchRow) -> Batch:
    return _read_all(connection, [batch])[0]


def _read_all(connection: sa.Connection, batches: Sequence[BatchRow]) -> tuple[Batch, ...]:
    """Batches with all lines, names and packs, read in one statement."""
    glance = [name for name in PackSummary.__annotations__ if name != "warnings"]
    columns = [PACKS.c[name].label(f"pack_{name}") for name in glance if name != "id"]
    lines = (
        sa.select(
            BATCH_ITEMS,
            OWNERS.c.name.label("student_name"),
            PACKS.c.plan["warnings"].label("pack_warnings"),
            *columns,
        )
        .select_from(BATCH_ITEMS)
        .outerjoin(OWNERS, OWNERS.c.id == BATCH_ITEMS.c.student_id)
        .outerjoin(PACKS, PACKS.c.id == BATCH_ITEMS.c.pack_id)
        .where(BATCH_ITEMS.c.batch_id.in_([one.id for one in batches]))
        .order_by(BATCH_ITEMS.c.batch_id, BATCH_ITEMS.c.position)
    )
    items: dict[str, list[BatchItem]] = {one.id: [] for one in batches}
    for row in connection.execute(lines):
        items[row.batch_id].append(_to_item(row))
    return tuple(Batch(row=one, items=tuple(items[one.id])) for one in batches)


def _to_item(row: sa.Row[Any]) -> BatchItem:
    found = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
    own = {name: found[name] for name in BatchItemRow.__annotations__}
    pack = None
    if found["pack_id"] is not None:
        theirs = {name: found[f"pack_{name}"] for name in PackSummary.__annotations__}
        pack = PackSummary(**{**theirs, "warnings": tuple(found["pack_warnings"] or ())})
    return BatchItem(row=BatchItemRow(**own), student_name=found["student_name"] or "", pack=pack)
