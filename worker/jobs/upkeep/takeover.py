"""A worker that starts on one machine takes over at once the packs that the last one held.

Otherwise they would wait half a minute for their leases to run out. Only a worker that is alone
may do so; a lock on the data folder shows whether it is.
"""

from __future__ import annotations

import logging
import time

from worker.errors import StorageFull
from worker.jobs.upkeep.cleanup import delete_each
from worker.jobs.upkeep.sweeper import WorkerResources
from worker.store.files.disk import translated_errors
from worker.store.files.filelock import FileLock
from worker.store.files.privacy import make_private_folder
from worker.store.files.worker_lock import try_worker_lock

_LOG = logging.getLogger(__name__)
#: The children of a worker that was killed live for a moment longer, and hold its lock.
_LOCK_WAIT_S = 3.0


def take_over(resources: WorkerResources) -> FileLock | None:
    """Free every lease if no other worker uses this data folder; call it before making packs.

    Returns:
        The lock, to be held as long as this process lives; None: another worker has it, and
        the packs it may have lost are freed when their leases run out.

    Raises:
        FolderNotWritable: The data folder cannot be written.
    """
    lock = _lock(resources)
    if lock is None:
        _LOG.warning("Another worker uses this data folder; both will work.")
        return None
    try:
        report = resources.ledger.free_held_by(resources.ledger.lease_holders())
    except StorageFull as error:
        # The worker must start all the same: it deletes, and upkeep frees the leases later.
        _LOG.error("%s", error)
        return lock
    delete_each(resources.storage, report.stale_keys)
    if report.requeued:
        _LOG.info("Taken over from a worker that died: %s", ", ".join(report.requeued))
    return lock


def _lock(resources: WorkerResources) -> FileLock | None:
    folder = resources.settings.data_dir
    deadline = time.monotonic() + _LOCK_WAIT_S
    with translated_errors(folder):
        make_private_folder(folder)
        while (lock := try_worker_lock(folder)) is None:
            if time.monotonic() > deadline:
                return None
            time.sleep(0.05)
    return lock
