"""Sends what is due to webhooks, beside the sweeper and without holding it up.

Threads are started when something is due and end when nothing is; each takes one message at a
time from the ledger. Where nobody has a webhook, there is none.
"""

from __future__ import annotations

import logging
import threading
from datetime import UTC, datetime

from worker.errors import RicalcoError
from worker.jobs.upkeep.webhooks.messages import body_of, headers_of
from worker.jobs.upkeep.webhooks.posting import Poster
from worker.store.ledger import Ledger, Result, Sending

_LOG = logging.getLogger(__name__)
#: How many messages are sent at once: slow receivers delay each other, but no pack.
SENDERS = 4


def make_delivery(ledger: Ledger, networks: tuple[str, ...], stop: threading.Event) -> Delivery:
    """Delivery over the network; `networks` are those that the operator allows besides."""
    return Delivery(ledger, Poster(networks=networks), stop)


class Delivery:
    """Sends messages until none is due, or until `stop` is set."""

    def __init__(self, ledger: Ledger, poster: Poster, stop: threading.Event) -> None:
        self._ledger = ledger
        self._poster = poster
        self._stop = stop
        self._senders: list[threading.Thread] = []

    def start_sending(self) -> None:
        """Start as many threads as are missing; each ends when nothing is due."""
        self._senders = [one for one in self._senders if one.is_alive()]
        for _ in range(SENDERS - len(self._senders)):
            sender = threading.Thread(target=self.send_due, name="webhooks", daemon=True)
            sender.start()
            self._senders.append(sender)

    def send_due(self) -> int:
        """Send what is due, one after another; returns how many were sent."""
        sent = 0
        try:
            while not self._stop.is_set() and self.send_one():
                sent += 1
        except RicalcoError as error:
            _LOG.warning("Webhooks are left for the next sweep: %s", error)
        except Exception:  # noqa: BLE001 - what was claimed is sent again when its lease ran out
            _LOG.exception("Webhooks are left for the next sweep.")
        return sent

    def send_one(self) -> Result | None:
        """Send one message and record what came of it; None: none is due."""
        message = self._ledger.deliveries.claim()
        if message is None:
            return None
        result = self._send(message)
        self._ledger.deliveries.record(message, result)
        return result

    def _send(self, message: Sending) -> Result:
        """Send a message; one that cannot be sent at all must not keep the others."""
        try:
            body = body_of(message)
            headers = headers_of(message, body, datetime.now(UTC))
            return self._poster.post(message.url, body, headers)
        except Exception:  # noqa: BLE001 - whatever is wrong with this one, it counts as a try
            _LOG.exception("%s cannot be sent.", message.id)
            return Result(outcome="unreachable")
