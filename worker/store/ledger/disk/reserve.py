"""Disk space that is reserved for the ledger, so that deleting works on a full disk.

A deletion writes too: SQLite appends every page that it changes, and overwrites what was
deleted. On a full disk that would fail, and the one call that makes room would be refused. So
there are some files without content beside the ledger. They are removed one by one when SQLite
reports a full disk, and made again once there is room for more than them.

Deleting thirty students with three packs of 400 sheets each (plans of 80 kB) writes 8.6 MB.
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

#: How many files, and the size of each. A deletion is tried again after each that is removed,
#: since another program may use up the room first. All together they are just enough to delete
#: thirty students with three packs of 400 sheets each; larger deletions go pack by pack.
PIECES, PIECE_BYTES = 4, 2 * 2**20
#: They are made only where this much stays free besides. Otherwise another process could fill
#: the reserve again with the room that was just released for a deletion.
_BESIDES_BYTES = PIECES * PIECE_BYTES
#: Errors of file systems that cannot reserve blocks.
_UNSUPPORTED = {errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}


class Reserve:
    """The reserved files, in a folder of their own beside the ledger.

    Args:
        folder: That folder; made where it is missing.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def release_piece(self) -> bool:
        """Remove one file, so that its room can be used; False where none is left."""
        for path in self._paths():
            try:
                path.unlink()
            except OSError:
                continue
            return True
        return False

    def fill(self) -> None:
        """Make the files that are missing.

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
        """Right after a deletion, make as many missing files as there is room for."""
        with suppress(OSError):
            for path in self._missing() if self._folder.is_dir() else ():
                _write_piece(path)

    def is_complete(self) -> bool:
        """Whether all files exist."""
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
    """Make one file with real blocks, of full size or not at all.

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
        # Two processes may make the same file at once; then one finds its file renamed already.
        with suppress(FileNotFoundError):
            new.replace(path)
    except OSError:
        new.unlink(missing_ok=True)
        raise


def _allocate(descriptor: int) -> None:
    """Have the system reserve blocks; where it cannot, write random bytes.

    Zeros would take no room on file systems that compress.
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
