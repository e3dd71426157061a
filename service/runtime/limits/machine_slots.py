"""Slots that all web processes of a machine share: cores and memory are the machine's.

Each slot is the lock of a file, which the system frees when its process ends, however that ends.
"""

from __future__ import annotations

import logging
from pathlib import Path
from threading import Lock

from worker.store.files.filelock import FileLock, try_lock
from worker.store.files.privacy import close_all_to_others, make_private_folder

_LOG = logging.getLogger(__name__)


class MachineSlots:
    """Slots of one kind; safe to use from several threads.

    Args:
        folder: On this machine's own disk, the same for all its processes.
        kind: What is limited.
        count: How many there are.
    """

    def __init__(self, folder: Path, kind: str, count: int) -> None:
        self._paths = [folder / f"{kind}-{number}.lock" for number in range(count)]
        self._folder = folder
        close_all_to_others(folder)
        self._lock = Lock()
        self._held: list[FileLock | None] = []

    def take(self) -> bool:
        """Take one without waiting; returns whether there was one."""
        try:
            lock = self._first_free()
        except OSError as error:
            # On a full disk this process's own limit is what is left.
            _LOG.warning("Slots cannot be shared with other processes now: %s", error)
            lock = None
        else:
            if lock is None:
                return False
        with self._lock:
            self._held.append(lock)
        return True

    def release(self) -> None:
        """Free one."""
        with self._lock:
            lock = self._held.pop()
        if lock is not None:
            lock.release()

    def _first_free(self) -> FileLock | None:
        make_private_folder(self._folder)
        return next((lock for path in self._paths if (lock := try_lock(path)) is not None), None)
