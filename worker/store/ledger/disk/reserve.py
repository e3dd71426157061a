"""Room on the disk that is kept for the ledger, so that deleting works when nothing else does.

A deletion writes too: SQLite appends every page that it changes, and overwrites what was
deleted. On a full disk that fails, and the one call that makes room would be refused. So some
files of no content lie beside the ledger; one after the other is removed when SQLite says that
the disk is full, and they are made again once there is room for more than them.
"""

from __future__ import annotations

import errno
import os
import shutil
from contextlib import suppress
from pathlib import Path

from worker.errors import StorageFull
from worker.store.files.disk import translated_errors
from worker.store.files.privacy import FILE_MODE, close_to_others, make_private_folder

#: How many files, and how large each is. A deletion tries again after each, since another
#: program may be quicker at taking the room; all together they hold the deletion of thirty
#: students with three packs of 400 sheets each with little to spare, and larger ones are done
#: pack by pack.
PIECES, PIECE_BYTES = 4, 2 * 2**20
#: They are made only where so much stays free besides: what a deletion has just been given
#: must not be taken from it by whoever looks after the reserve at that moment.
_BESIDES_BYTES = PIECES * PIECE_BYTES
#: What file systems say that set nothing aside.
_UNSUPPORTED = {errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}


class Reserve:
    """The files, in a folder of their own beside the ledger.

    Args:
        folder: Where they lie.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def release_piece(self) -> bool:
        """Remove one of them; False where none is left."""
        for path in self._paths():
            try:
                path.unlink()
            except OSError:
                continue
            return True
        return False

    def fill(self) -> None:
        """Make those that are missing.

        Raises:
            StorageFull: There is no room for them.
            FolderNotWritable: They cannot be made there.
        """
        missing = self._missing()
        if not missing:
            return
        with translated_errors(self._folder):
            make_private_folder(self._folder)
            close_to_others(self._folder)
            self._check_room(len(missing) * PIECE_BYTES)
            for path in missing:
                _write_piece(path)

    def refill(self) -> None:
        """Make as many of the missing as there is room for, right after a deletion."""
        with suppress(OSError):
            for path in self._missing() if self._folder.is_dir() else ():
                _write_piece(path)

    def is_complete(self) -> bool:
        """Whether all of them are there."""
        return not self._missing()

    def _check_room(self, bytes_: int) -> None:
        free = shutil.disk_usage(self._folder).free
        if free < bytes_ + _BESIDES_BYTES:
            message = f"Only {free // 2**20} MiB are free in {self._folder.parent}: make room."
            raise StorageFull(message)

    def _paths(self) -> list[Path]:
        return [self._folder / f"room-{number}" for number in range(PIECES)]

    def _missing(self) -> list[Path]:
        return [path for path in self._paths() if _size(path) != PIECE_BYTES]


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return -1


def _write_piece(path: Path) -> None:
    """A file of this size with real blocks; whole or not at all.

    Raises:
        OSError: The disk is full.
    """
    new = path.with_suffix(".new")
    try:
        descriptor = os.open(new, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, FILE_MODE)
        try:
            _allocate(descriptor)
        finally:
            os.close(descriptor)
        # Two processes may make the same file at once: one of the two finds its own gone.
        with suppress(FileNotFoundError):
            new.replace(path)
    except OSError:
        new.unlink(missing_ok=True)
        raise


def _allocate(descriptor: int) -> None:
    """Have the system set blocks aside; what it cannot promise is written.

    A file of zeros would do on most file systems, and take no room on those that compress.
    """
    if hasattr(os, "posix_fallocate"):
        try:
            os.posix_fallocate(descriptor, 0, PIECE_BYTES)
        except OSError as error:
            if error.errno not in _UNSUPPORTED:
                raise
        else:
            return
    left = PIECE_BYTES
    while left:
        left -= os.write(descriptor, os.urandom(left))
