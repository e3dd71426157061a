"""Links to one file, which open it without a key for some minutes.

A row has the SHA-256 of the link's secret, so that a copy of the ledger opens nothing. A link
goes, in the same transaction, with the pack or batch whose file it opens, with the person who
made it and with the key or session that they asked with; what they may see no longer, it does
not open.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import sqlalchemy as sa

from worker.errors import LimitReached
from worker.store.ledger.database.database import Database
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.people import access_keys
from worker.store.ledger.people.access_keys import to_person
from worker.store.ledger.people.credentials import key_hash, new_link
from worker.store.ledger.people.records import Person
from worker.store.ledger.tables import ACCESS_KEYS, LINKS, OWNERS

#: Most links of one person at a time: thirty students' packs, sheet by sheet. It bounds what a
#: request that is sent over and over writes.
MOST_LINKS = 1000
#: How long a link that is over is told from one that never was.
REMEMBERED_S = 24 * 3600.0


@dataclass(frozen=True, kw_only=True)
class LinkRow:
    """A link without its secret; it is to a file of a pack or of a batch.

    Attributes:
        made_by: The person or course site that asked for it.
        key_id: The key that they asked with; None: this machine's user, who has none.
        session_id: The session in which they asked, which it does not outlive; None: in none.
        file: The path of the file below its pack or batch.
        covers: Whether a print run has covers.
    """

    made_by: str
    key_id: str | None
    session_id: str | None = None
    pack_id: str | None = None
    batch_id: str | None = None
    file: str
    covers: bool = False
    ends_at: float


class Links:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(self, row: LinkRow) -> str:
        """Insert a link; returns its secret, which is not stored.

        Raises:
            NotFound: Whoever asks was deleted meanwhile.
            LimitReached: They have `MOST_LINKS` already.
        """
        secret = new_link()
        live = sa.and_(LINKS.c.made_by == row.made_by, LINKS.c.ends_at > self._clock())
        with self._database.writing() as connection:
            lock_owner(connection, row.made_by)
            count = sa.select(sa.func.count()).where(live)
            if connection.execute(count).scalar_one() >= MOST_LINKS:
                message = f"You have {MOST_LINKS} links: wait until the first of them are over."
                raise LimitReached(message)
            connection.execute(sa.insert(LINKS).values(**vars(row), hash=key_hash(secret)))
        return secret

    def opened_by(self, secret: str) -> tuple[Person, LinkRow, bool] | None:
        """Who made the link with this secret, the link, and whether its time is over.

        None where there is none, or where whoever made it has lost the key that they asked
        with.
        """
        now = self._clock()
        joined = LINKS.join(OWNERS, OWNERS.c.id == LINKS.c.made_by).outerjoin(
            ACCESS_KEYS, ACCESS_KEYS.c.id == LINKS.c.key_id
        )
        keyed = sa.or_(LINKS.c.key_id.is_(None), access_keys.opens(now))
        valid = sa.and_(LINKS.c.hash == key_hash(secret), keyed, OWNERS.c.withdrawn_at.is_(None))
        columns = [LINKS.c[one.name].label(f"link_{one.name}") for one in fields(LinkRow)]
        found = sa.select(*access_keys.PERSON, *columns).select_from(joined).where(valid)
        with self._database.reading() as connection:
            row = connection.execute(found).one_or_none()
        if row is None:
            return None
        values = row._mapping  # noqa: SLF001 - SQLAlchemy's documented name
        link = LinkRow(**{one.name: values[f"link_{one.name}"] for one in fields(LinkRow)})
        return to_person(row), link, link.ends_at <= now


def forget_ended(connection: sa.Connection, now: float) -> None:
    """Delete the links that have been over for a day."""
    connection.execute(sa.delete(LINKS).where(LINKS.c.ends_at <= now - REMEMBERED_S))
