"""Renews the leases of idempotency keys while their requests are under way.

A lease is short (`worker.store.ledger.idempotency`), so that the key of a request that died
with its process is free within seconds. One thread renews the leases of all requests that
take longer than a moment; it runs only while there are such requests.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from worker.errors import RicalcoError
from worker.store.ledger import KEY_HOLD_S, HeldKey

_LOG = logging.getLogger(__name__)
#: Two renewals may fail before a lease ends.
RENEW_S = KEY_HOLD_S / 4


class KeyHolds:
    """The keys that requests of this process hold.

    Args:
        renew: Renews the leases of these keys in the ledger.
    """

    def __init__(self, renew: Callable[[list[HeldKey]], None]) -> None:
        self._renew = renew
        self._lock = threading.Lock()
        self._under_way: dict[str, HeldKey] = {}
        self._thread: threading.Thread | None = None

    @contextmanager
    def held(self, fresh: HeldKey) -> Iterator[None]:
        """Renew a key's lease while the block runs."""
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

    def _still_held(self) -> list[HeldKey]:
        """Wait, then return the keys still held; none ends the thread."""
        time.sleep(RENEW_S)
        with self._lock:
            held = list(self._under_way.values())
            if not held:
                self._thread = None
            return held
