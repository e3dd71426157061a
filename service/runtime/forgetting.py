"""Has caches forget photos that another process deleted.

A web process drops what its caches have of a photo when it deletes that itself. Other web
processes, and the worker that deletes what is past its time, cannot tell it; nobody is shown
anything of such a photo, since the ledger is asked first, but it would stay in memory until others
needed the room.
"""

from __future__ import annotations

import logging
import threading

from service.runtime.context import ServiceContext
from worker.errors import RicalcoError

_LOG = logging.getLogger(__name__)
EVERY_S = 60.0


class Forgetting(threading.Thread):
    """Compares caches with the ledger, until the service stops."""

    def __init__(self, context: ServiceContext) -> None:
        super().__init__(name="forgetting", daemon=True)
        self._context = context

    def run(self) -> None:
        """Compare every minute; no error ends it."""
        while not self._context.closing.wait(EVERY_S):
            try:
                forget_deleted(self._context)
            except RicalcoError as error:
                _LOG.warning("Caches are compared with the ledger later: %s", error)
            except Exception:  # noqa: BLE001 - the thread must not end: nothing else does its work
                _LOG.exception("Caches are compared with the ledger later.")


def forget_deleted(context: ServiceContext) -> None:
    """Drop what caches have of photos that the ledger does not know any more.

    Raises:
        LedgerUnavailable: It cannot be asked now.
    """
    kept = context.remembered()
    if not kept:
        return
    for reference_id in kept - context.ledger.known_references(sorted(kept)):
        context.forget(reference_id)
