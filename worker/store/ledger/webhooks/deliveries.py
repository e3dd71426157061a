"""What is to be sent to webhooks, for the processes that send it; and the log of it.

A claim moves a message's `next_at` to when sending is taken for lost, and marks it with a token
of the process. So two processes never send the same message at once, and one whose sender died
is sent again, under the same id: at least once, and a receiver knows by the id what it has.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from typing import Any

import sqlalchemy as sa

from worker.errors import NotFound, WebhookDisabled
from worker.store.ledger.database.database import Database
from worker.store.ledger.keyset import Page, in_order
from worker.store.ledger.people.records import DAY_S
from worker.store.ledger.tables import (
    BATCHES,
    OWNERS,
    PACKS,
    SITES,
    WEBHOOK_ATTEMPTS,
    WEBHOOK_MESSAGES,
    WEBHOOKS,
)
from worker.store.ledger.visibility import owned_or_taught, pack_seen_by, taught_batch
from worker.store.ledger.webhooks import outbox
from worker.store.ledger.webhooks.records import (
    FAILING_S,
    JITTER,
    KEPT_DAYS,
    LEASE_S,
    LONGEST_ASKED_S,
    MOST_AT_ONCE,
    MOST_ATTEMPTS,
    PAUSES_S,
    AttemptRow,
    MessageRow,
    Result,
    Sending,
)
from worker.store.ledger.webhooks.webhooks import disable

_GONE = "There is no such delivery."
_M, _W = WEBHOOK_MESSAGES, WEBHOOKS
#: The tutor of a webhook's owner, who is one themself or has them as a course site.
_TUTOR = sa.func.coalesce(OWNERS.c.tutor_id, OWNERS.c.id)
#: Held while a message is claimed on PostgreSQL: any number that nothing else uses there.
_CLAIM_LOCK = 5_260_118
_ABOUT = sa.func.coalesce(_M.c.pack_id, _M.c.batch_id, _M.c.student_id).label("about")
_SHOWN = tuple(
    _ABOUT if name == "about" else _M.c[name]
    for name in MessageRow.__annotations__
    if name != "attempts"
)


class Deliveries:
    """Each method is one transaction, as in `Ledger`, which has one of these."""

    def __init__(self, database: Database, clock: Callable[[], float]) -> None:
        self._database = database
        self._clock = clock

    def due(self) -> bool:
        """Whether anything is to be sent; read first, so that an idle disk may sleep."""
        first = sa.select(_M.c.id).where(_due(self._clock())).limit(1)
        with self._database.reading() as connection:
            return connection.execute(first).one_or_none() is not None

    def claim(self) -> Sending | None:
        """Take the message that has been due for longest, or None.

        Of one webhook one message is sent at a time, and of one tutor with their course sites
        `MOST_AT_ONCE`, so that slow receivers delay their own.
        What its owner may not know any more is deleted unsent.
        """
        now = self._clock()
        with self._database.writing() as connection:
            if not self._database.sqlite:
                # Of two that claim at once neither would see what the other sends from now on.
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_CLAIM_LOCK)))
            while (row := _next(connection, now)) is not None:
                if _may_know(connection, row, now):
                    return _claimed(connection, row, now)
                connection.execute(sa.delete(_M).where(_M.c.id == row.id))
        return None

    def record(self, sent: Sending, result: Result) -> bool:
        """Write down what sending ended with, and when to send again.

        Returns:
            False where the message is another process's by now, or was deleted.
        """
        now = self._clock()
        with self._database.writing() as connection:
            arrived = result.outcome == "delivered"
            given_up = not arrived and sent.tries > len(PAUSES_S)
            again = None if arrived or given_up else now + _pause_s(sent.tries, result)
            mine = sa.update(_M).where(_M.c.id == sent.id, _M.c.token == sent.token)
            values = {"token": None, "next_at": again, "delivered_at": now if arrived else None}
            if connection.execute(mine.values(**values)).rowcount == 0:
                return False
            _log(connection, sent.id, now, result)
            _judge(connection, sent.webhook_id, now, result, given_up=given_up)
            return True

    def of_webhook(self, webhook_id: str, page: Page | None = None) -> tuple[MessageRow, ...]:
        """A webhook's messages with their attempts, the newest first; its owner was checked."""
        theirs = sa.select(*_SHOWN).where(_M.c.webhook_id == webhook_id)
        newest = in_order(theirs, _M.c.at, _M.c.id, page, newest_first=True)
        with self._database.reading() as connection:
            return _with_attempts(connection, connection.execute(newest).all())

    def replay(self, webhook_id: str, message_id: str) -> MessageRow:
        """Send a message again, under the same id.

        Raises:
            NotFound: The webhook has no such message.
            WebhookDisabled: Nothing is sent to it.
        """
        held = sa.select(_W.c.disabled_at).where(_W.c.id == webhook_id).with_for_update()
        which = sa.and_(_M.c.id == message_id, _M.c.webhook_id == webhook_id)
        with self._database.writing() as connection:
            webhook = connection.execute(held).one_or_none()
            if webhook is not None and webhook.disabled_at is not None:
                raise WebhookDisabled("Nothing is sent to this webhook: enable it first.")
            values = {"next_at": self._clock(), "token": None, "tries": 0, "delivered_at": None}
            if connection.execute(sa.update(_M).where(which).values(**values)).rowcount == 0:
                raise NotFound(_GONE)
            rows = connection.execute(sa.select(*_SHOWN).where(which)).all()
            return _with_attempts(connection, rows)[0]


def forget_old(connection: sa.Connection, now: float) -> None:
    """Delete the messages whose time is over, with their log."""
    connection.execute(sa.delete(_M).where(_M.c.at <= now - KEPT_DAYS * DAY_S))


def _due(now: float) -> sa.ColumnElement[bool]:
    return sa.and_(_M.c.next_at.is_not(None), _M.c.next_at <= now)


def _next(connection: sa.Connection, now: float) -> sa.Row[Any] | None:
    other = _M.alias()
    sent_now = sa.exists().where(
        other.c.webhook_id == _M.c.webhook_id, other.c.token.is_not(None), other.c.next_at > now
    )
    first = (
        sa.select(_M, _ABOUT, _W.c.owner_id, _W.c.url, _W.c.secret, _W.c.old_secret)
        .add_columns(_W.c.old_secret_until, _W.c.disabled_at)
        .join(_W, _W.c.id == _M.c.webhook_id)
        .join(OWNERS, OWNERS.c.id == _W.c.owner_id)
        .where(_due(now), sa.not_(sent_now), _TUTOR.not_in(_busy_tutors(now)))
        .order_by(_M.c.next_at, _M.c.id)
        .limit(1)
        .with_for_update(skip_locked=True, of=_M)
    )
    return connection.execute(first).one_or_none()


def _busy_tutors(now: float) -> sa.Select[tuple[str]]:
    """Ids of the tutors of whom, with their course sites, enough is sent at this moment."""
    senders = _M.join(_W, _W.c.id == _M.c.webhook_id).join(OWNERS, OWNERS.c.id == _W.c.owner_id)
    sent_now = sa.select(_TUTOR).where(_M.c.token.is_not(None), _M.c.next_at > now)
    grouped = sent_now.select_from(senders).group_by(_TUTOR)
    return grouped.having(sa.func.count() >= MOST_AT_ONCE).correlate(None)


def _may_know(connection: sa.Connection, row: sa.Row[Any], now: float) -> bool:
    """Whether the webhook's owner still sees what the message is about, and may be told."""
    who = row.owner_id
    known = sa.select(SITES.c.scopes).select_from(_W.outerjoin(SITES, SITES.c.id == _W.c.owner_id))
    site = connection.execute(known.where(_W.c.id == row.webhook_id, outbox.live(now)))
    found = site.one_or_none()
    if found is None or not outbox.may(found.scopes):
        return False
    if row.pack_id is not None:
        seen = sa.select(PACKS.c.id).where(PACKS.c.id == row.pack_id, pack_seen_by(who))
    elif row.batch_id is not None:
        seen = sa.select(BATCHES.c.id).where(taught_batch(row.batch_id, who))
    else:
        theirs = owned_or_taught(OWNERS.c.id, who)
        seen = sa.select(OWNERS.c.id).where(OWNERS.c.id == row.student_id, theirs)
    return connection.execute(seen).one_or_none() is not None


def _claimed(connection: sa.Connection, row: sa.Row[Any], now: float) -> Sending:
    token = secrets.token_hex(16)
    mine = sa.update(_M).where(_M.c.id == row.id)
    values = {"token": token, "next_at": now + LEASE_S, "tries": row.tries + 1}
    connection.execute(mine.values(**values))
    both = row.old_secret is not None and (row.old_secret_until or 0.0) > now
    return Sending(
        id=row.id,
        webhook_id=row.webhook_id,
        type=row.type,
        about=row.about,
        at=row.at,
        url=row.url,
        secrets=(row.secret, row.old_secret) if both else (row.secret,),
        token=token,
        tries=row.tries + 1,
    )


def _pause_s(tries: int, result: Result) -> float:
    """How long to wait after so many tries, in s: random, so that not all come back at once."""
    pause_s = PAUSES_S[tries - 1] * secrets.SystemRandom().uniform(1 - JITTER, 1 + JITTER)
    return max(pause_s, min(result.retry_after_s, LONGEST_ASKED_S))


def _log(connection: sa.Connection, message_id: str, now: float, result: Result) -> None:
    mine = WEBHOOK_ATTEMPTS.c.message_id == message_id
    last = sa.select(sa.func.coalesce(sa.func.max(WEBHOOK_ATTEMPTS.c.number), 0)).where(mine)
    number = connection.execute(last).scalar_one() + 1
    line = {"message_id": message_id, "number": number, "at": now, "took_s": result.took_s}
    line |= {"outcome": result.outcome, "status": result.status}
    connection.execute(sa.insert(WEBHOOK_ATTEMPTS).values(**line))
    old = WEBHOOK_ATTEMPTS.c.number <= number - MOST_ATTEMPTS
    connection.execute(sa.delete(WEBHOOK_ATTEMPTS).where(mine, old))


def _judge(
    connection: sa.Connection, webhook_id: str, now: float, result: Result, *, given_up: bool
) -> None:
    """Note since when a webhook fails, and disable one that has failed for long or is gone."""
    mine = sa.update(_W).where(_W.c.id == webhook_id)
    if result.outcome == "delivered":
        connection.execute(mine.where(_W.c.failing_since.is_not(None)).values(failing_since=None))
        return
    connection.execute(mine.where(_W.c.failing_since.is_(None)).values(failing_since=now))
    since = sa.select(_W.c.failing_since).where(_W.c.id == webhook_id)
    if result.outcome == "gone":
        disable(connection, webhook_id, now, "gone")
    elif given_up and now - float(connection.execute(since).scalar_one()) >= FAILING_S:
        disable(connection, webhook_id, now, "failing")


def _with_attempts(
    connection: sa.Connection, rows: Sequence[sa.Row[Any]]
) -> tuple[MessageRow, ...]:
    ids = [row.id for row in rows]
    theirs = sa.select(WEBHOOK_ATTEMPTS).where(WEBHOOK_ATTEMPTS.c.message_id.in_(ids))
    attempts: dict[str, list[AttemptRow]] = {}
    for row in connection.execute(theirs.order_by(WEBHOOK_ATTEMPTS.c.number)):
        values = {name: getattr(row, name) for name in AttemptRow.__annotations__}
        attempts.setdefault(row.message_id, []).append(AttemptRow(**values))
    return tuple(
        MessageRow(**row._mapping, attempts=tuple(attempts.get(row.id, ())))  # noqa: SLF001 - SQLAlchemy's documented name
        for row in rows
    )
