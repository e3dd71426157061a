"""A message as it is sent: the body, and the headers that sign it (Standard Webhooks 1.0.0).

The body is the same bytes whenever it is sent. It says what happened, when and to what; nothing
of a person is in it but an id, which the receiver asks about with its key.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime

from worker.store.ledger import Sending


def body_of(message: Sending) -> str:
    """The body, as JSON."""
    happened = datetime.fromtimestamp(message.at, UTC).isoformat(timespec="milliseconds")
    told = {
        "type": message.type,
        "timestamp": happened.replace("+00:00", "Z"),
        "data": {"id": message.about},
    }
    return json.dumps(told, separators=(",", ":"))


def headers_of(message: Sending, body: str, now: datetime) -> dict[str, str]:
    """The headers that identify and sign a body; `now` is in UTC."""
    # It is loaded when something is sent, and not with every worker.
    from standardwebhooks import Webhook  # noqa: PLC0415

    signed = [Webhook(one).sign(message.id, now, body) for one in message.secrets]
    return {
        "Content-Type": "application/json",
        "User-Agent": "Ricalco-Webhooks/1",
        "webhook-id": message.id,
        "webhook-timestamp": str(int(now.timestamp())),
        "webhook-signature": " ".join(signed),
    }
