"""A worker that starts on one machine takes over at once what its forerunner left.

Leases would free it too, half a minute later. Only a worker that is alone may do so; a
lock on the data folder says whether it is.
"""

from __future__ import annotations

import logging
import time

from worker.jobs.upkeep.removal import remove_each
from worker.jobs.upkeep.sweeper import WorkerResources
from worker.store.files.disk import errors_told
from worker.store.files.filelock import FileLock, try_lock
from worker.store.files.privacy import make_private_folder

_LOG = logging.getLogger(__name__)
#: A forerunner that was killed is outlived by its children for a moment.
_PATIENCE_S = 3.0


def take_over(resources: WorkerResources) -> FileLock | None:
    """Free every lease, if no other worker lives here; call it before anything is made.

    Returns:
        The lock, to be held as long as this process lives; None: another worker has it,
        and what that one lost comes free as its leases run out.

    Raises:
        FolderNotWritable: The data folder cannot be written.
    """
    lock = _lock(resources)
    if lock is None:
        _LOG.warning("Another worker uses this data folder; both will work.")
        return None
    report = resources.ledger.release(resources.ledger.holders())
    remove_each(resources.storage, report.stale_keys)
    if report.requeued:
        _LOG.info("Taken over from a worker that died: %s", ", ".join(report.requeued))
    return lock


def _lock(resources: WorkerResources) -> FileLock | None:
    folder = resources.settings.data_dir
    deadline = time.monotonic() + _PATIENCE_S
    with errors_told(folder):
        make_private_folder(folder)
        while (lock := try_lock(folder / "worker.lock")) is None:
            if time.monotonic() > deadline:
                return None
            time.sleep(0.05)
    return lock
