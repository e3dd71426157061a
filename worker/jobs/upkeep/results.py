"""Tells results to learning platforms beside the sweeper, which a slow platform must not stop."""

from __future__ import annotations

import logging
import threading
from importlib.util import find_spec

from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
#: What the extra `ricalco[lti]` brings.
PACKAGE = "joserfc"


class ResultTeller:
    """Tells what is due in a thread of its own, one at a time."""

    def __init__(self, ledger: Ledger, private_hosts: tuple[str, ...]) -> None:
        self._ledger = ledger
        self._private_hosts = private_hosts
        self._busy = threading.Lock()

    def tell(self) -> None:
        """Begin to tell, where something is due and nobody does so yet."""
        if not self._ledger.results.waits() or find_spec(PACKAGE) is None:
            return
        if self._busy.acquire(blocking=False):
            threading.Thread(target=self._work, name="results", daemon=True).start()

    def wait(self) -> None:
        """Wait until what is being told is told."""
        with self._busy:
            return

    def _work(self) -> None:
        # Nothing of it is loaded where nobody comes from a platform.
        from worker.lti.fetch import Fetcher  # noqa: PLC0415
        from worker.lti.grades import tell_results  # noqa: PLC0415

        try:
            tell_results(self._ledger, Fetcher(self._private_hosts))
        except Exception:  # noqa: BLE001 -- The last handler of the thread: it must let go.
            _LOG.exception("Results cannot be told to platforms.")
        finally:
            self._busy.release()
