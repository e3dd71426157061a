"""When no more packs are taken, so that nobody waits for hours without knowing it.

The fair order (`worker.store.ledger.packs.packs`) makes the pack of someone who has none
unfinished next, however many wait: behind a full queue their wait is that of one making. So they
are let in beyond the limit, and all others are not. Were each of very many people let in so, they
would wait for each other; at twice the limit nobody is.
"""

from __future__ import annotations

import sqlalchemy as sa

from worker.store.ledger.tables import PACKS, QUEUED

#: Packs that may wait for each that is made side by side: at one to four seconds for a pack
#: (measured) ten minutes to half an hour.
EACH = 500
#: A laptop takes a few large classes at once, whatever its cores.
LEAST = 1000


def limit_of(setting: int, places: int) -> int:
    """From how many waiting packs on others are refused.

    Args:
        setting: RICALCO_MAX_QUEUED; 0: by the places.
        places: How many packs are made side by side, by all workers.
    """
    return setting or max(LEAST, EACH * places)


def waiting(connection: sa.Connection, most: int | None, *which: sa.ColumnElement[bool]) -> int:
    """How many packs wait, or those of them of which this holds; counted up to `most`."""
    queued = sa.select(PACKS.c.id).where(QUEUED, *which).limit(most)
    counted = sa.select(sa.func.count()).select_from(queued.subquery())
    return int(connection.execute(counted).scalar_one())


def has_unfinished(connection: sa.Connection, payer_id: str) -> bool:
    """Whether a pack that this person asked for is not made yet."""
    theirs = sa.or_(
        sa.and_(PACKS.c.owner_id == payer_id, PACKS.c.payer_id.is_(None)),
        PACKS.c.payer_id == payer_id,
    )
    found = sa.select(PACKS.c.id).where(theirs, PACKS.c.state.in_(("queued", "making"))).limit(1)
    return connection.execute(found).one_or_none() is not None


def refuses(connection: sa.Connection, limit: int, payer_id: str, *, one: bool) -> bool:
    """Whether packs of this person are refused.

    Args:
        connection: A transaction that reads.
        limit: See `limit_of`.
        payer_id: The person to whose place in the fair order they are charged.
        one: Whether one pack is asked for, and no batch.
    """
    now = waiting(connection, 2 * limit)
    if now < limit:
        return False
    return now >= 2 * limit or not one or has_unfinished(connection, payer_id)
