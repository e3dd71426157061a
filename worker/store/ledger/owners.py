"""Owners of rows: nothing is inserted for a person who is being deleted."""

from __future__ import annotations

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger.tables import OWNERS


def lock_owner(connection: sa.Connection, owner_id: str) -> None:
    """Lock a person's row, so that they cannot be deleted until this transaction commits.

    Raises:
        NotFound: They were deleted since their key was checked.
    """
    found = sa.select(OWNERS.c.id).where(OWNERS.c.id == owner_id).with_for_update()
    if connection.execute(found).one_or_none() is None:
        raise NotFound("Whoever this is for was deleted meanwhile.")
