"""The `webhooks` of the document: what the service itself sends, and to which answers.

They are requests to somebody else's server, in the form of Standard Webhooks 1.0.0.
"""

from __future__ import annotations

from typing import Any

from worker.store.ledger import EVENTS, EventType

Json = dict[str, Any]
_ABOUT: dict[EventType, str] = {
    "pack.ready": "pck_Example000000000000001",
    "pack.failed": "pck_Example000000000000001",
    "batch.done": "bat_Example000000000000001",
    "student.joined": "stu_Example000000000000001",
}
_HEADERS = {
    "webhook-id": "The message's id, the same whenever it is sent: by it you know what you have.",
    "webhook-timestamp": "When it was sent, in seconds since 1970; refuse what is old.",
    "webhook-signature": "Signatures of id, time and body, with a blank between: `v1,` and base 64 "
    "of an HMAC-SHA256 (Standard Webhooks 1.0.0).",
}
_ANSWERS = {
    "2XX": "It has arrived. Nothing of the answer but its status is read.",
    "410": "It is wanted no more: the webhook is disabled.",
    "default": "It is sent again, for a day with growing pauses; `Retry-After` is heeded up to "
    "an hour. Redirects are not followed.",
}


def webhooks_section() -> Json:
    """An operation for each event, by the event's name."""
    return {event: {"post": _operation(event, says)} for event, says in EVENTS.items()}


def _operation(event: EventType, says: str) -> Json:
    parameters = [
        {
            "in": "header",
            "name": name,
            "required": True,
            "description": told,
            "schema": {"type": "string"},
        }
        for name, told in _HEADERS.items()
    ]
    return {
        "operationId": f"on_{event.replace('.', '_')}",
        "summary": says,
        "description": "Sent to the addresses of webhooks that want it, signed with their secrets.",
        "tags": ["webhooks"],
        "security": [],
        "parameters": parameters,
        "requestBody": {"required": True, "content": {"application/json": _content(event)}},
        "responses": {status: {"description": told} for status, told in _ANSWERS.items()},
    }


def _content(event: EventType) -> Json:
    id_ = {"type": "string", "description": "The id of the thing; ask about it with your key."}
    schema = {
        "type": "object",
        "required": ["type", "timestamp", "data"],
        "properties": {
            "type": {"type": "string", "enum": [event], "description": "What happened."},
            "timestamp": {
                "type": "string",
                "format": "date-time",
                "description": "When it happened.",
            },
            "data": {
                "type": "object",
                "description": "What it is about, and nothing of a person but an id.",
                "required": ["id"],
                "properties": {"id": id_},
            },
        },
    }
    example = {
        "type": event,
        "timestamp": "2026-03-02T09:30:00.000Z",
        "data": {"id": _ABOUT[event]},
    }
    return {"schema": schema, "example": example}
