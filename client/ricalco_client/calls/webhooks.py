"""Webhooks: addresses of a tutor or course site that are told what happens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from urllib.parse import quote

from ..transport.repeated import each
from ..transport.transport import Call, Transport
from ..values import JsonObject


class Webhooks:
    """The webhooks of whoever the key belongs to, and of their course sites."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def every(self) -> list[JsonObject]:
        """All webhooks, as JSON."""
        return list(each(self._transport, "/v1/webhooks"))

    def create(self, url: str, events: Sequence[str] | None = None) -> JsonObject:
        """Register an address; the answer has `webhook` and `secret`, the secret only this once.

        Args:
            url: Where the service sends what happens.
            events: What it is told; None: everything.

        Raises:
            RequestRefused, StateRefused: With the fault and its field.
        """
        wish: JsonObject = {"url": url}
        if events is not None:
            wish["events"] = list(events)
        return self._ask(Call(method="POST", path="/v1/webhooks", json=wish, repeatable=False))

    def get(self, webhook_id: str) -> JsonObject:
        """A webhook: where it goes, and whether anything arrives there."""
        return self._ask(Call(method="GET", path=_path(webhook_id)))

    def change(self, webhook_id: str, changes: JsonObject) -> JsonObject:
        """Change `url`, `events` or `enabled`."""
        return self._ask(Call(method="PATCH", path=_path(webhook_id), json=changes))

    def delete(self, webhook_id: str) -> None:
        """Delete a webhook with its log."""
        self._transport.send(Call(method="DELETE", path=_path(webhook_id), repeatable=False))

    def rotate_secret(self, webhook_id: str, overlap_s: int = 86400) -> JsonObject:
        """Make another secret; both sign for `overlap_s`. The answer is that of `create`."""
        path, wish = f"{_path(webhook_id)}/secrets", {"overlap_s": overlap_s}
        return self._ask(Call(method="POST", path=path, json=wish, repeatable=False))

    def deliveries(self, webhook_id: str) -> Iterator[JsonObject]:
        """What it was told and how that ended, the newest first; pages come as they are needed."""
        return each(self._transport, f"{_path(webhook_id)}/deliveries")

    def replay(self, webhook_id: str, message_id: str) -> JsonObject:
        """Have a message sent again, under the same id."""
        path = f"{_path(webhook_id)}/deliveries/{quote(message_id, safe='')}/replays"
        return self._ask(Call(method="POST", path=path))

    def _ask(self, call: Call) -> JsonObject:
        return self._transport.document(call, "webhook")


def _path(webhook_id: str) -> str:
    return f"/v1/webhooks/{quote(webhook_id, safe='')}"
