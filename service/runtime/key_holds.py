"""Keys of requests under way stay held as long as the requests live.

A key's hold is short (`worker.store.ledger.idempotency`), so that a request which died with
its process gives the key back within seconds. One thread renews the holds of all requests
that take longer than a moment; there is none while there are none.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from worker.errors import RicalcoError
from worker.store.ledger import HELD_S, Fresh

_LOG = logging.getLogger(__name__)
#: Two renewals may fail before a hold is over.
RENEW_S = HELD_S / 4


class KeyHolds:
    """The keys that this process's requests hold.

    Args:
        renew: Says that the requests which hold these keys are under way.
    """

    def __init__(self, renew: Callable[[list[Fresh]], None]) -> None:
        self._renew = renew
        self._lock = threading.Lock()
        self._under_way: dict[str, Fresh] = {}
        self._thread: threading.Thread | None = None

    @contextmanager
    def held(self, fresh: Fresh) -> Iterator[None]:
        """Keep a key held for as long as the block runs."""
        with self._lock:
            self._under_way[fresh.token] = fresh
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="holds", daemon=True)
                self._thread.start()
        try:
            yield
        finally:
            with self._lock:
                del self._under_way[fresh.token]

    def _run(self) -> None:
        while held := self._still_held():
            try:
                self._renew(held)
            except RicalcoError as error:
                _LOG.warning("Keys of requests under way are not renewed: %s", error)
            except Exception:  # noqa: BLE001 - the requests under way go on all the same
                _LOG.exception("Keys of requests under way are not renewed.")

    def _still_held(self) -> list[Fresh]:
        """What is held after a pause; nothing, once the thread is no longer needed."""
        time.sleep(RENEW_S)
        with self._lock:
            held = list(self._under_way.values())
            if not held:
                self._thread = None
            return held
