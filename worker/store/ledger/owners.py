"""People as what other rows hang on: whoever is gone gets nothing more."""

from __future__ import annotations

import sqlalchemy as sa

from worker.errors import NotFound
from worker.store.ledger.tables import OWNERS


def lock_owner(connection: sa.Connection, owner_id: str) -> None:
    """See that a person is there, and keep a deletion of them out until this commits.

    Raises:
        NotFound: They were deleted since their key was looked at.
    """
    found = sa.select(OWNERS.c.id).where(OWNERS.c.id == owner_id).with_for_update()
    if connection.execute(found).one_or_none() is None:
        raise NotFound("Whoever this is for was deleted meanwhile.")
