"""A lock that ends with its process, however that dies.

Two things rest on it: a workspace whose lock is free belongs to nobody any more, and a
worker that holds its data folder's lock is the only one there. A file with a process
number in it would do neither: numbers are given out again.
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
    """A lock that is held; forked children hold it too, until the last of them ends."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def release(self) -> None:
        """Give it up; the file stays."""
        os.close(self._descriptor)


def try_lock(path: Path) -> FileLock | None:
    """Take the lock of a file, which is made where it is missing; None: someone has it.

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
