"""The lock of the worker of one machine on its data folder: who holds it lives."""

from __future__ import annotations

from pathlib import Path

from worker.settings import Settings
from worker.store.files.filelock import FileLock, try_lock


def try_worker_lock(data_dir: Path) -> FileLock | None:
    """Take the lock without waiting; None: a worker holds it.

    Raises:
        OSError: The folder cannot be written.
    """
    return try_lock(data_dir / "worker.lock")


def worker_lives(settings: Settings) -> bool:
    """Whether this machine's worker lives; with a broker the ledger knows workers instead.

    A look takes the lock for a moment, and a worker that starts just then waits for it.
    """
    if not settings.one_machine:
        return False
    try:
        lock = try_worker_lock(settings.data_dir)
    except OSError:
        return False
    if lock is not None:
        lock.release()
    return lock is None
