"""The photos and packs of people: for the board of a class, for limits and for the export."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.packs.packs import to_pack
from worker.store.ledger.packs.references import to_reference
from worker.store.ledger.records import PackRow, ReferenceRow
from worker.store.ledger.tables import BATCH_ITEMS, BATCHES, JSON, OWNERS, PACKS, REFERENCES

_NEWEST_PACK = (PACKS.c.created_at.desc(), PACKS.c.id)
_NEWEST_PHOTO = (REFERENCES.c.created_at.desc(), REFERENCES.c.id)


@dataclass(frozen=True, kw_only=True)
class Holding:
    """The photos and packs of one person, newest first."""

    references: tuple[ReferenceRow, ...] = ()
    packs: tuple[PackRow, ...] = ()

    @property
    def asked(self) -> PackRow | None:
        """The newest pack that they asked for themselves and did not cancel."""
        own = (one for one in self.packs if one.payer_id is None and one.state != "cancelled")
        return next(own, None)

    @property
    def shown(self) -> PackRow | None:
        """The pack to show first: the newest that was not cancelled, or else the newest."""
        live = [one for one in self.packs if one.state != "cancelled"]
        return next(iter(live or self.packs), None)

    def made_of(self, reference_id: str) -> PackRow | None:
        """The newest pack of this photo that was not cancelled."""
        live = (one for one in self.packs if one.state != "cancelled")
        return next((one for one in live if one.reference_id == reference_id), None)


class Holdings:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of_person(self, person_id: str) -> Holding:
        """All photos and packs of one person."""
        with self._database.reading() as connection:
            found = _holdings(connection, [person_id], PACKS.c.plan)
        return found.get(person_id, Holding())

    def packs_of(
        self, person_id: str, page: Page, number: str | None = None
    ) -> tuple[PackRow, ...]:
        """A person's packs without their plans, which are long; newest first.

        Args:
            person_id: The person.
            page: The part of the list.
            number: Only packs with this number on their sheets; None: all.
        """
        mine = _without_plan(sa.null()).where(PACKS.c.owner_id == person_id)
        if number is not None:
            mine = mine.where(PACKS.c.number == number)
        newest = in_order(mine, PACKS.c.created_at, PACKS.c.id, page, newest_first=True)
        with self._database.reading() as connection:
            return tuple(map(to_pack, connection.execute(newest)))

    def of_class(self, class_id: str) -> dict[str, Holding]:
        """All photos and packs of a class's students, by student.

        Only the pack `made_of` each student's newest photo has its plan: a board is read every
        few seconds, and plans are long.
        """
        with self._database.reading() as connection:
            students = sa.select(OWNERS.c.id).where(OWNERS.c.class_id == class_id)
            return _holdings(connection, students, _plan_of_newest_photo())

    def numbered(self, class_id: str, number: str) -> tuple[PackRow, ...]:
        """The packs of a class that carry this number on their sheets; newest first.

        Those are its students' own, and those of its batches, also a tutor's copy.
        """
        students = sa.select(OWNERS.c.id).where(OWNERS.c.class_id == class_id)
        batches = sa.select(BATCHES.c.id).where(BATCHES.c.class_id == class_id)
        ordered = sa.select(BATCH_ITEMS.c.pack_id).where(
            BATCH_ITEMS.c.batch_id.in_(batches), BATCH_ITEMS.c.pack_id.is_not(None)
        )
        theirs = sa.or_(PACKS.c.owner_id.in_(students), PACKS.c.id.in_(ordered))
        found = sa.select(PACKS).where(PACKS.c.number == number, theirs).order_by(*_NEWEST_PACK)
        with self._database.reading() as connection:
            return tuple(map(to_pack, connection.execute(found)))


def _plan_of_newest_photo() -> sa.ColumnElement[Any]:
    """The plan of the pack that is made of its owner's newest photo; NULL for the others."""
    newest = (
        sa.select(REFERENCES.c.id)
        .where(REFERENCES.c.owner_id == PACKS.c.owner_id)
        .order_by(*_NEWEST_PHOTO)
        .limit(1)
        .correlate(PACKS)
        .scalar_subquery()
    )
    cancelled = sa.case((PACKS.c.state == "cancelled", 1), else_=0)
    place = sa.func.row_number().over(
        partition_by=(PACKS.c.owner_id, PACKS.c.reference_id), order_by=(cancelled, *_NEWEST_PACK)
    )
    of_it = sa.and_(place == 1, cancelled == 0, PACKS.c.reference_id == newest)
    return sa.type_coerce(sa.case((of_it, PACKS.c.plan)), JSON)


def _without_plan(plan: sa.ColumnElement[Any]) -> sa.Select[Any]:
    """All columns of packs, with this in place of their plan."""
    columns = [column for column in PACKS.c if column is not PACKS.c.plan]
    return sa.select(*columns, plan.label("plan"))


def _holdings(
    connection: sa.Connection, who: Sequence[str] | sa.Select[tuple[str]], plan: Any
) -> dict[str, Holding]:
    photos = sa.select(REFERENCES).where(REFERENCES.c.owner_id.in_(who))
    newest = photos.order_by(*_NEWEST_PHOTO)
    references: dict[str, list[ReferenceRow]] = defaultdict(list)
    for row in map(to_reference, connection.execute(newest)):
        references[row.owner_id].append(row)
    made = _without_plan(plan).where(PACKS.c.owner_id.in_(who))
    packs: dict[str, list[PackRow]] = defaultdict(list)
    for pack in map(to_pack, connection.execute(made.order_by(*_NEWEST_PACK))):
        packs[pack.owner_id].append(pack)
    return {
        owner: Holding(references=tuple(references[owner]), packs=tuple(packs[owner]))
        for owner in references.keys() | packs.keys()
    }
