"""Workers, each as it was seen last: they say so every few seconds, and when they end.

On one machine the only worker writes nothing, so that an idle laptop's disk may sleep; there a
lock on the data folder shows that it lives.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import sqlalchemy as sa

from worker.store.ledger.database.database import Database
from worker.store.ledger.tables import WORKERS

#: A worker that has said nothing for so long counts no more; it says so every five seconds, and
#: a new version of it takes some seconds to start.
LATELY_S = 45.0
#: Rows of workers that ended without a word are forgotten.
_FORGET_S = 24 * 3600.0


@dataclass(frozen=True, kw_only=True)
class WorkerRow:
    """A worker.

    Attributes:
        name: Machine, process and a random part.
        places: How many packs it makes side by side.
        version: Of the program.
        seen_at: When it was seen last, by the ledger's clock.
    """

    name: str
    places: int
    version: str
    seen_at: float


class Workers:
    """Each method is one transaction, as in `Ledger`, which has one of these.

    Args:
        database: The ledger's.
        now: Reads the ledger's clock.
    """

    def __init__(self, database: Database, now: Callable[[sa.Connection], float]) -> None:
        self._database = database
        self._now = now

    def note(self, name: str, places: int, version: str) -> None:
        """Note that a worker lives, and forget those that ended long ago."""
        with self._database.writing() as connection:
            now = self._now(connection)
            values = {"places": places, "version": version, "seen_at": now}
            known = sa.update(WORKERS).where(WORKERS.c.name == name).values(**values)
            if connection.execute(known).rowcount:
                return
            connection.execute(sa.insert(WORKERS).values(name=name, **values))
            connection.execute(sa.delete(WORKERS).where(WORKERS.c.seen_at < now - _FORGET_S))

    def gone(self, name: str) -> None:
        """A worker has ended in order."""
        with self._database.writing() as connection:
            connection.execute(sa.delete(WORKERS).where(WORKERS.c.name == name))

    def lately(self) -> tuple[WorkerRow, ...]:
        """Those that were seen lately."""
        with self._database.reading() as connection:
            since = self._now(connection) - LATELY_S
            found = sa.select(WORKERS).where(WORKERS.c.seen_at >= since).order_by(WORKERS.c.name)
            rows = connection.execute(found)
            return tuple(WorkerRow(**row._mapping) for row in rows)  # noqa: SLF001 - documented
