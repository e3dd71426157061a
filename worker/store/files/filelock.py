"""A lock on a file that the system frees when the process that holds it ends, however it ends.

Two things depend on it: a workspace whose lock is free is used by nobody, and a worker that
holds its data folder's lock is the only one that uses the folder. A file that contains a process
number would give neither, since systems use numbers again.

Not the `filelock` library: it closes the lock in forked children, so the lock of a worker that
was killed would be free while its pool still makes packs.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


class FileLock:
    """A lock that is held. Forked children hold it too, until the last of them ends."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def release(self) -> None:
        """Free the lock; the file stays."""
        os.close(self._descriptor)


def try_lock(path: Path) -> FileLock | None:
    """Take the lock of a file without waiting; the file is created where it is missing.

    Returns:
        The lock; None where another process, or another lock of this one, holds it.

    Raises:
        OSError: The file cannot be made or opened.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _lock(descriptor)
    except OSError:
        os.close(descriptor)
        return None
    return FileLock(descriptor)
