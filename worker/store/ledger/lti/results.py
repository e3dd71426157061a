"""What gradebooks of platforms are to be told: that a student's pack is ready.

A launch notes the column, and a worker finds what is due. A row is held while it is being sent, so
that two workers do not send it at once; a worker that dies leaves it to be sent again later.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from worker.store.ledger.database.database import Database
from worker.store.ledger.lti.records import ResultRow
from worker.store.ledger.people.access_keys import LIVE
from worker.store.ledger.records import new_id
from worker.store.ledger.tables import ACCESS_KEYS, LTI_RESULTS, PACKS, PLATFORMS, SITES

#: How long a row is held, and how many are sent in one pass.
HELD_S = 120.0
MOST_AT_ONCE = 20
#: After failures: a minute, doubled each time up to four hours; the twelfth comes after a day.
FIRST_PAUSE_S = 60.0
LONGEST_PAUSE_S = 4 * 3600.0
MOST_ATTEMPTS = 12


@dataclass(frozen=True, kw_only=True)
class DueResult:
    """A result to be told, and the pack that it is about."""

    row: ResultRow
    pack_id: str
    made_at: float
    finished_at: float


class Results:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def note(
        self, platform_id: str, person_id: str, *, line_item: str, subject: str, home: str
    ) -> None:
        """Note the column of a student's activity; packs made from now on are told there."""
        theirs = sa.and_(LTI_RESULTS.c.person_id == person_id, LTI_RESULTS.c.line_item == line_item)
        values = {"platform_id": platform_id, "subject": subject, "home": home}
        with self._database.writing() as connection:
            if connection.execute(sa.update(LTI_RESULTS).where(theirs).values(**values)).rowcount:
                return
            fresh = {
                "id": new_id("lti_"),
                "person_id": person_id,
                "line_item": line_item,
                "since": self._clock(),
                "attempts": 0,
                "not_before": 0.0,
            }
            connection.execute(sa.insert(LTI_RESULTS).values(**values, **fresh))

    def waits(self) -> bool:
        """Whether any result is due."""
        now = self._clock()
        with self._database.reading() as connection:
            return connection.execute(_ready(now, LTI_RESULTS.c.id).limit(1)).first() is not None

    def due(self) -> tuple[DueResult, ...]:
        """Take what is to be told now, the newest pack of each; and hold it."""
        now = self._clock()
        columns = [LTI_RESULTS.c[name] for name in ResultRow.__annotations__]
        pack = [PACKS.c.id.label("ready_id"), PACKS.c.created_at, PACKS.c.finished_at]
        ready = _ready(now, *columns, *pack).order_by(PACKS.c.created_at)
        with self._database.reading() as connection:
            found = {row.id: row for row in connection.execute(ready)}
        taken = []
        for row in [*found.values()][:MOST_AT_ONCE]:
            if self._hold(row.id, row.attempts, now):
                values = {name: getattr(row, name) for name in ResultRow.__annotations__}
                taken.append(
                    DueResult(
                        row=ResultRow(**values),
                        pack_id=row.ready_id,
                        made_at=row.created_at,
                        finished_at=row.finished_at or now,
                    )
                )
        return tuple(taken)

    def told(self, due: DueResult) -> None:
        """Note that a result was told."""
        values = {"pack_id": due.pack_id, "since": due.made_at, "attempts": 0, "not_before": 0.0}
        self._change(due.row.id, values)

    def failed(self, due: DueResult) -> bool:
        """Note that a result could not be told; False where it is not tried again."""
        attempts = due.row.attempts + 1
        if attempts >= MOST_ATTEMPTS:
            # The next pack is told again.
            self._change(due.row.id, {"since": due.made_at, "attempts": 0, "not_before": 0.0})
            return False
        pause_s = min(FIRST_PAUSE_S * 2.0 ** (attempts - 1), LONGEST_PAUSE_S)
        self._change(due.row.id, {"attempts": attempts, "not_before": self._clock() + pause_s})
        return True

    def _hold(self, result_id: str, attempts: int, now: float) -> bool:
        free = sa.and_(
            LTI_RESULTS.c.id == result_id,
            LTI_RESULTS.c.attempts == attempts,
            LTI_RESULTS.c.not_before <= now,
        )
        with self._database.writing() as connection:
            held = sa.update(LTI_RESULTS).where(free).values(not_before=now + HELD_S)
            return connection.execute(held).rowcount == 1

    def _change(self, result_id: str, values: dict[str, object]) -> None:
        with self._database.writing() as connection:
            changed = sa.update(LTI_RESULTS).where(LTI_RESULTS.c.id == result_id)
            connection.execute(changed.values(**values))


def _ready(now: float, *columns: sa.ColumnElement[Any]) -> sa.Select[Any]:
    """Ready packs that a column is to be told of, and is not held; not after the site's time."""
    keyed = sa.exists().where(ACCESS_KEYS.c.owner_id == SITES.c.id, LIVE)
    return (
        sa.select(*columns)
        .select_from(LTI_RESULTS)
        .join(PACKS, PACKS.c.owner_id == LTI_RESULTS.c.person_id)
        .join(PLATFORMS, PLATFORMS.c.id == LTI_RESULTS.c.platform_id)
        .join(SITES, SITES.c.id == PLATFORMS.c.site_id)
        .where(SITES.c.expires_at > now, keyed)
        .where(PACKS.c.state == "ready", PACKS.c.created_at > LTI_RESULTS.c.since)
        .where(LTI_RESULTS.c.not_before <= now)
    )
