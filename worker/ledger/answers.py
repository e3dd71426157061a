"""Kept answers are copies too: what is deleted is deleted from them as well.

An idempotency key keeps its answer for a day, titles and names included. Deleting a photo
must not leave its pack's title there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import sqlalchemy as sa

from worker.ledger.rows import ID_LETTERS
from worker.ledger.tables import KEYS

#: What follows an id's prefix, wherever it stands; looked at ahead, so that none is missed
#: because another seems to begin within it.
_RANDOM_PART = re.compile(rf"_(?=([A-Za-z0-9_-]{{{ID_LETTERS}}}))")
_BLOCK_ROWS = 200


def forget_answers(connection: sa.Connection, ids: Iterable[str]) -> None:
    """Forget every answer that names one of these.

    The answers are read once, however many ids there are: one search for each would hold up
    every other writer for half a minute when a class is deleted.
    """
    gone = {one.partition("_")[2] for one in ids}
    if not gone:
        return
    kept = sa.select(KEYS.c.owner_id, KEYS.c.key, KEYS.c.body).where(KEYS.c.status.is_not(None))
    rows = connection.execute(kept.execution_options(yield_per=_BLOCK_ROWS))
    naming = [
        (row.owner_id, row.key)
        for row in rows
        if not gone.isdisjoint(_RANDOM_PART.findall(row.body))
    ]
    for owner_id, key in naming:
        mine = sa.and_(KEYS.c.owner_id == owner_id, KEYS.c.key == key)
        connection.execute(sa.delete(KEYS).where(mine))
