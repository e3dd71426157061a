"""Whether there is a worker: seen lately in the ledger, or on one machine by its lock."""

from __future__ import annotations

from worker.errors import NoWorker
from worker.settings import Settings
from worker.store.files.worker_lock import worker_lives
from worker.store.ledger import Ledger


def check_workers(settings: Settings, ledger: Ledger) -> None:
    """Raise NoWorker where none was seen lately."""
    if not (worker_lives(settings) or ledger.workers.lately()):
        raise NoWorker("No worker was seen lately: start one with ricalco worker.")
