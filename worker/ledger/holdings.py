"""What people have: for the board of a class, for limits and for the export."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from worker.ledger.database import Database
from worker.ledger.packs import to_pack
from worker.ledger.references import to_reference
from worker.ledger.rows import PackRow, ReferenceRow
from worker.ledger.tables import OWNERS, PACKS, REFERENCES


@dataclass(frozen=True, kw_only=True)
class Holding:
    """What one person has, newest first."""

    references: tuple[ReferenceRow, ...] = ()
    packs: tuple[PackRow, ...] = ()

    @property
    def asked(self) -> PackRow | None:
        """The newest pack that they asked for themselves and did not cancel."""
        own = (one for one in self.packs if one.payer_id is None and one.state != "cancelled")
        return next(own, None)


class Holdings:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of_person(self, person_id: str) -> Holding:
        """All photos and packs of one person."""
        with self._database.reading() as connection:
            found = _holdings(connection, sa.select(OWNERS.c.id).where(OWNERS.c.id == person_id))
        return found.get(person_id, Holding())

    def of_class(self, class_id: str) -> dict[str, Holding]:
        """All photos and packs of a class's students, by student."""
        with self._database.reading() as connection:
            students = sa.select(OWNERS.c.id).where(OWNERS.c.class_id == class_id)
            return _holdings(connection, students)


def _holdings(connection: sa.Connection, who: sa.Select[tuple[str]]) -> dict[str, Holding]:
    photos = sa.select(REFERENCES).where(REFERENCES.c.owner_id.in_(who))
    newest = photos.order_by(REFERENCES.c.created_at.desc(), REFERENCES.c.id)
    references = [to_reference(row) for row in connection.execute(newest)]
    made = sa.select(PACKS).where(PACKS.c.owner_id.in_(who))
    packs = [
        to_pack(row)
        for row in connection.execute(made.order_by(PACKS.c.created_at.desc(), PACKS.c.id))
    ]
    return {
        owner: Holding(
            references=tuple(one for one in references if one.owner_id == owner),
            packs=tuple(one for one in packs if one.owner_id == owner),
        )
        for owner in {one.owner_id for one in references} | {one.owner_id for one in packs}
    }
