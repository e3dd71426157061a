"""Stored data may be read by the user who runs Ricalco alone: folders 700, files 600.

Other accounts of the machine must not read photos, packs or the ledger, whatever umask the
service was started with. On Windows modes have no effect; there the system itself closes the
user's folder to other accounts.
"""

from __future__ import annotations

import logging
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from threading import Lock

_LOG = logging.getLogger(__name__)
FOLDER_MODE, FILE_MODE = 0o700, 0o600
#: The permissions of group and others.
_OTHERS = 0o077
#: While one thread of this process makes a file, no other opens one.
_CREATING = Lock()


def make_private_folder(folder: Path) -> None:
    """Make a folder, and the missing ones above it, for this user alone.

    A folder that exists keeps its mode; `close_to_others` changes that.

    Raises:
        OSError: It cannot be made.
    """
    if folder.is_dir():
        return
    if folder.parent != folder and not folder.parent.exists():
        make_private_folder(folder.parent)
    folder.mkdir(mode=FOLDER_MODE, exist_ok=True)


def make_private_file(path: Path) -> None:
    """Make an empty file for this user alone; a file that exists is not even opened.

    In POSIX, closing a file frees every lock that this process holds on it. Another program
    would then believe that nobody uses SQLite's log.

    Raises:
        OSError: It cannot be made.
    """
    with _CREATING, suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, FILE_MODE))


def close_to_others(path: Path) -> None:
    """Remove the permissions of group and others from a file or folder.

    The mode of another user's file cannot be changed; that is logged, and `ricalco check`
    reports it.
    """
    if not is_open_to_others(path):
        return
    try:
        path.chmod(stat.S_IMODE(path.stat().st_mode) & ~_OTHERS)
    except FileNotFoundError:
        return
    except OSError as error:
        _LOG.warning("Other accounts may read what is kept: %s", error.strerror)


def close_all_to_others(folder: Path) -> None:
    """The same for a folder and all in it; quick where that has been done before.

    The folder itself is changed last, so that its mode shows whether everything in it is closed.
    """
    if not is_open_to_others(folder):
        return
    for path in _below(folder):
        close_to_others(path)
    close_to_others(folder)


def is_open_to_others(path: Path) -> bool:
    """Whether its mode grants anything to group or others; False where it does not exist."""
    if sys.platform == "win32":
        return False
    try:
        mode = path.stat(follow_symlinks=False).st_mode
        # A folder with the sticky bit, such as /tmp, is meant for everybody.
        return bool(mode & _OTHERS) and not mode & stat.S_ISVTX and not stat.S_ISLNK(mode)
    except OSError:
        return False


def _below(folder: Path) -> Iterator[Path]:
    """Everything in a folder, however deep; no link is followed."""
    for place, folders, files in os.walk(folder):
        yield from (Path(place, name) for name in (*folders, *files))
