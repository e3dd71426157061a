"""Back-pressure: no more packs are taken while too many wait to be made.

Refusing at once, with the time after which to ask again, is better than a pack that is taken and
made hours later. It happens before anything is planned or kept, so the same request with the same
key may be sent again. Who is let in all the same: `worker.store.ledger.packs.queue_limit`.
"""

from __future__ import annotations

import secrets

from service.http.errors import QueueFull
from service.runtime.context import get_context, owner_id

#: Seconds, so many more at random: those who were refused together do not all come together.
RETRY_S, SPREAD_S = 20, 20


def check_queue(*, one: bool) -> None:
    """Check that the queue takes more.

    Args:
        one: Whether one pack is asked for, and no batch.

    Raises:
        QueueFull: It does not.
    """
    context = get_context()
    setting, places = context.settings.max_queued, own_places()
    if context.ledger.refuses_packs(setting, places, owner_id(), one=one):
        message = "Too many packs wait to be made. Ask again in half a minute; nothing is lost."
        raise QueueFull(message, retry_after_s=RETRY_S + secrets.randbelow(SPREAD_S + 1))


def own_places() -> int:
    """How many packs the worker of this machine makes side by side; 0 with a broker."""
    settings = get_context().settings
    return settings.workers if settings.one_machine else 0
