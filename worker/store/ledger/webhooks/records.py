"""Webhooks, their messages and attempts as frozen dataclasses; the events that there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from worker.store.ledger.people.records import DAY_S

EventType = Literal["pack.ready", "pack.failed", "batch.done", "student.joined"]
#: What each event tells. Its message has the id of the pack, the batch or the student.
EVENTS: dict[EventType, str] = {
    "pack.ready": "A pack is ready to be fetched.",
    "pack.failed": "A pack ended without its files; the pack says why.",
    "batch.done": "Every pack of a batch has ended: as ready, failed, cancelled or deleted.",
    "student.joined": "A student has joined the class on a device of their own.",
}
Outcome = Literal[
    "delivered",
    "refused",
    "redirect",
    "gone",
    "too-slow",
    "too-large",
    "unreachable",
    "name-unknown",
    "address-not-allowed",
    "certificate",
]
#: What an attempt ended with.
OUTCOMES: dict[Outcome, str] = {
    "delivered": "It was answered with a status from 200 to 299.",
    "refused": "It was answered with another status.",
    "redirect": "It was answered with a redirect, and redirects are not followed.",
    "gone": "It was answered with 410: the webhook is disabled.",
    "too-slow": "There was no answer in time.",
    "too-large": "The head of the answer was longer than any needs to be.",
    "unreachable": "There was no connection, or it broke off.",
    "name-unknown": "The name system does not know the host.",
    "address-not-allowed": "The host's address is in a network that webhooks may not reach.",
    "certificate": "The host did not prove by a certificate that it is the one of the address.",
}
Because = Literal["failing", "gone"]
MessageState = Literal["waiting", "delivered", "failed"]
#: Pauses before a message is sent again, in s, each longer or shorter by a fifth at random: about
#: the example of Standard Webhooks 1.0.0, within a day in all (our choice).
PAUSES_S = (5.0, 300.0, 1800.0, 7200.0, 18000.0, 28800.0, 28800.0)
JITTER = 0.2
#: The longest pause that a receiver can ask for in `Retry-After`.
LONGEST_ASKED_S = 3600.0
#: A webhook is disabled when a message is given up, and nothing has arrived for so long.
FAILING_S = 3 * DAY_S
#: How long a process may take for sending; after that another one sends again.
LEASE_S = 120.0
#: Most messages of one tutor and their course sites that are sent at once. It is less than a
#: process sends at once, so that slow receivers of one tutor leave room for the others'.
MOST_AT_ONCE = 2
#: How long messages and the log of their deliveries are kept (our choice).
KEPT_DAYS = 30
#: How long the old secret signs beside a new one, in s: by default, and at most.
OVERLAP_S, LONGEST_OVERLAP_S = DAY_S, 7 * DAY_S
#: Most webhooks of one person or course site.
MOST_WEBHOOKS = 10
#: Most attempts that are kept of one message, however often it is replayed.
MOST_ATTEMPTS = 50


@dataclass(frozen=True, kw_only=True)
class WebhookRow:
    """A webhook, without its secrets.

    Attributes:
        owner_id: The tutor or course site that registered it.
        old_secret_until: Until when the secret before signs as well; None: it does not.
        failing_since: Since when nothing has arrived; None: the last request did.
        disabled_at: Since when nothing is sent; None: it is.
    """

    id: str
    owner_id: str
    url: str
    events: tuple[EventType, ...]
    created_at: float
    old_secret_until: float | None = None
    failing_since: float | None = None
    disabled_at: float | None = None
    disabled_because: Because | None = None


@dataclass(frozen=True, kw_only=True)
class IssuedWebhook:
    """A webhook with its new secret, which cannot be read later."""

    secret: str
    webhook: WebhookRow


@dataclass(frozen=True, kw_only=True)
class AttemptRow:
    """A line of the log of deliveries; `status` is None where no answer came."""

    number: int
    at: float
    outcome: Outcome
    status: int | None
    took_s: float


@dataclass(frozen=True, kw_only=True)
class MessageRow:
    """What a webhook is told, and how far that is.

    Attributes:
        about: The id of the pack, batch or student.
        at: When it happened.
        next_at: When it is sent next; None: not any more.
        attempts: The newest last.
    """

    id: str
    webhook_id: str
    type: EventType
    about: str
    at: float
    next_at: float | None
    delivered_at: float | None
    attempts: tuple[AttemptRow, ...] = ()

    @property
    def state(self) -> MessageState:
        """Whether it has arrived, is sent again, or has been given up."""
        if self.next_at is not None:
            return "waiting"
        return "failed" if self.delivered_at is None else "delivered"


@dataclass(frozen=True, kw_only=True)
class Sending:
    """A message that this process sends now.

    Attributes:
        secrets: What signs it, the newest first.
        token: Of this process; without it nothing is recorded.
        tries: Which try this is, from 1.
    """

    id: str
    webhook_id: str
    type: EventType
    about: str
    at: float
    url: str
    secrets: tuple[str, ...]
    token: str
    tries: int


@dataclass(frozen=True, kw_only=True)
class Result:
    """What sending ended with.

    Attributes:
        retry_after_s: How long the receiver asks to wait, in s.
    """

    outcome: Outcome
    status: int | None = None
    took_s: float = 0.0
    retry_after_s: float = 0.0
