"""File-system calls that make a write complete and durable, and its errors as errors of ours."""

from __future__ import annotations

import errno
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from worker.errors import FolderNotWritable, StorageFull

#: The disk, a quota, or the largest file that is allowed.
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOTDIR}


def is_full(error: OSError) -> bool:
    """Whether the system says that there is no room."""
    return error.errno in _FULL


@contextmanager
def translated_full_disk() -> Iterator[None]:
    """Turn the error of a full disk into StorageFull; all other errors pass unchanged."""
    try:
        yield
    except OSError as error:
        if not is_full(error):
            raise
        message = "The disk is full: make room and try again."
        raise StorageFull(message) from error


@contextmanager
def translated_errors(folder: Path) -> Iterator[None]:
    """The same; the error of a folder that may not be written becomes FolderNotWritable."""
    try:
        with translated_full_disk():
            yield
    except OSError as error:
        if error.errno not in _REFUSED:
            raise
        message = f"The folder {folder} cannot be written: {error.strerror}."
        raise FolderNotWritable(message) from error


def sync_file(path: Path) -> None:
    """Write a file's bytes through to the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def sync_folder(path: Path) -> None:
    """Write a folder's entries through to the disk; Windows does that by itself."""
    if sys.platform == "win32":
        return
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def remove(path: Path) -> None:
    """Remove a file, or a folder with all in it; no error where it does not exist."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)
