"""Kept answers are copies too: what is deleted is deleted from them as well.

An idempotency key keeps its answer for a day, titles and names included. Deleting a photo
must not leave its pack's title there.
"""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa

from worker.ledger.tables import KEYS


def forget_answers(connection: sa.Connection, ids: Iterable[str]) -> None:
    """Forget every answer that names one of these."""
    answered = KEYS.c.status.is_not(None)
    for one in ids:
        named = KEYS.c.body.contains(one, autoescape=True)
        connection.execute(sa.delete(KEYS).where(answered, named))
