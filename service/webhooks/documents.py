"""Webhooks and deliveries as JSON documents."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from service.http.answers.json_responses import utc_datetime
from service.webhooks.schemas import DeliverySchema, WebhookSchema
from worker.store.ledger import IssuedWebhook, MessageRow, WebhookRow

_WEBHOOK = WebhookSchema()
_DELIVERY = DeliverySchema()
#: Why nothing is sent to a webhook; whoever disabled it themselves knows.
_BECAUSE = {
    "failing": "Nothing has arrived for days. Mend what receives it, then enable it again.",
    "gone": "It answered that it is gone (410). Enable it again if that was a mistake.",
    None: "It was disabled by a call. Enable it again to have it told.",
}


def webhook_document(row: WebhookRow) -> dict[str, Any]:
    """A webhook as a document."""
    path = f"/v1/webhooks/{row.id}"
    disabled = row.disabled_at is not None
    shown = {
        "enabled": not disabled,
        "disabled_because": _BECAUSE[row.disabled_because] if disabled else None,
        "created_at": utc_datetime(row.created_at),
        "links": {
            "self": path,
            "deliveries": f"{path}/deliveries",
            "secrets": f"{path}/secrets",
        },
    }
    for name in ("disabled_at", "failing_since", "old_secret_until"):
        shown[name] = _time(getattr(row, name))
    return dict(_WEBHOOK.dump({**vars(row), **shown}))


def issued_document(issued: IssuedWebhook) -> dict[str, Any]:
    """A webhook with its new secret, as a document."""
    return {"webhook": webhook_document(issued.webhook), "secret": issued.secret}


def delivery_document(row: MessageRow) -> dict[str, Any]:
    """A message and its attempts as a document."""
    path = f"/v1/webhooks/{row.webhook_id}/deliveries/{row.id}/replays"
    shown = {
        "at": utc_datetime(row.at),
        "next_at": _time(row.next_at),
        "state": row.state,
        "attempts": [{**vars(one), "at": utc_datetime(one.at)} for one in row.attempts],
        "links": {"replays": path},
    }
    return dict(_DELIVERY.dump({**vars(row), **shown}))


def _time(seconds: float | None) -> datetime | None:
    return None if seconds is None else utc_datetime(seconds)
