"""Webhooks as tutors and course sites register them: addresses, events and secrets.

A secret signs what is sent (HMAC-SHA256), so unlike a key it is stored as it is; whoever can
read the ledger's file has it. It is shown when it is made, and never again.
"""

from __future__ import annotations

import base64
import secrets
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.owners import lock_owner
from worker.store.ledger.records import new_id
from worker.store.ledger.tables import WEBHOOK_MESSAGES, WEBHOOKS
from worker.store.ledger.visibility import webhook_seen_by
from worker.store.ledger.webhooks.records import (
    MOST_WEBHOOKS,
    EventType,
    IssuedWebhook,
    WebhookRow,
)

_GONE = "There is no such webhook."
#: Bytes of a secret: Standard Webhooks 1.0.0 asks for 24 to 64.
_SECRET_BYTES = 32
_SHOWN = tuple(WEBHOOKS.c[name] for name in WebhookRow.__annotations__)


class Webhooks:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def add(self, owner_id: str, url: str, events: tuple[EventType, ...]) -> IssuedWebhook:
        """Register an address.

        Raises:
            NotFound: Whoever asks was deleted meanwhile.
            LimitReached: They have `MOST_WEBHOOKS` already.
        """
        id_, secret = new_id("whk_"), new_secret()
        row = {"id": id_, "owner_id": owner_id, "url": url, "events": list(events)}
        with self._database.writing() as connection:
            lock_owner(connection, owner_id)
            count = sa.select(sa.func.count()).where(WEBHOOKS.c.owner_id == owner_id)
            if connection.execute(count).scalar_one() >= MOST_WEBHOOKS:
                raise LimitReached(f"You have {MOST_WEBHOOKS} webhooks: delete one first.")
            made = {**row, "secret": secret, "created_at": self._clock()}
            connection.execute(sa.insert(WEBHOOKS).values(**made))
            return IssuedWebhook(secret=secret, webhook=_one(connection, id_, owner_id))

    def of(self, who: str, page: Page | None = None) -> tuple[WebhookRow, ...]:
        """Someone's webhooks, and those of their course sites, the oldest first."""
        theirs = sa.select(*_SHOWN).where(webhook_seen_by(who))
        oldest = in_order(theirs, WEBHOOKS.c.created_at, WEBHOOKS.c.id, page)
        with self._database.reading() as connection:
            return tuple(map(_to_webhook, connection.execute(oldest)))

    def get(self, webhook_id: str, who: str) -> WebhookRow:
        """A webhook, or raise NotFound."""
        with self._database.reading() as connection:
            return _one(connection, webhook_id, who)

    def change(self, webhook_id: str, who: str, changes: dict[str, Any]) -> WebhookRow:
        """Change `url`, `events`, `enabled`; or raise NotFound.

        Whoever disables it, what waits is given up, and can be replayed later.
        """
        values: dict[str, Any] = {
            name: changes[name] for name in ("url", "events") if name in changes
        }
        with self._database.writing() as connection:
            _one(connection, webhook_id, who)
            if changes.get("enabled"):
                values |= dict.fromkeys(("failing_since", "disabled_at", "disabled_because"))
            elif "enabled" in changes:
                disable(connection, webhook_id, self._clock(), None)
            if values:
                mine = sa.update(WEBHOOKS).where(WEBHOOKS.c.id == webhook_id)
                connection.execute(mine.values(**values))
            return _one(connection, webhook_id, who)

    def rotate(self, webhook_id: str, who: str, overlap_s: float) -> IssuedWebhook:
        """Make another secret; the one before signs beside it for `overlap_s`. Or NotFound."""
        secret = new_secret()
        mine = sa.update(WEBHOOKS).where(WEBHOOKS.c.id == webhook_id)
        until = self._clock() + overlap_s if overlap_s > 0 else None
        before = WEBHOOKS.c.secret if overlap_s > 0 else None
        with self._database.writing() as connection:
            _one(connection, webhook_id, who)
            # The right side of an assignment is the row as it was.
            changed = mine.values(secret=secret, old_secret=before, old_secret_until=until)
            connection.execute(changed)
            return IssuedWebhook(secret=secret, webhook=_one(connection, webhook_id, who))

    def delete(self, webhook_id: str, who: str) -> None:
        """Delete a webhook with its messages and their log, or raise NotFound."""

        def erase(connection: sa.Connection) -> None:
            _one(connection, webhook_id, who)
            connection.execute(sa.delete(WEBHOOKS).where(WEBHOOKS.c.id == webhook_id))

        self._database.delete_with_reserve(erase)


def new_secret() -> str:
    """A secret in the form of Standard Webhooks 1.0.0."""
    return "whsec_" + base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()


def disable(connection: sa.Connection, webhook_id: str, now: float, because: str | None) -> None:
    """Send nothing there any more; what waits is given up."""
    mine = sa.update(WEBHOOKS).where(WEBHOOKS.c.id == webhook_id, WEBHOOKS.c.disabled_at.is_(None))
    connection.execute(mine.values(disabled_at=now, disabled_because=because))
    waits = sa.update(WEBHOOK_MESSAGES).where(WEBHOOK_MESSAGES.c.webhook_id == webhook_id)
    connection.execute(waits.values(next_at=None, token=None))


def _one(connection: sa.Connection, webhook_id: str, who: str) -> WebhookRow:
    mine = sa.select(*_SHOWN).where(WEBHOOKS.c.id == webhook_id, webhook_seen_by(who))
    row = connection.execute(mine).one_or_none()
    if row is None:
        raise NotFound(_GONE)
    return _to_webhook(row)


def _to_webhook(row: sa.Row[Any]) -> WebhookRow:
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's documented name
    return WebhookRow(**{**values, "events": tuple(values["events"])})
