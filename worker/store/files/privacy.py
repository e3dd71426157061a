"""What is kept is for the user who runs Ricalco alone: folders 700, files 600.

Other accounts of the machine must not read photos, packs or the ledger, whatever umask the
service was started with. On Windows modes say nothing; there the user's own folder is closed
to others by the system.
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
#: Everything that a mode grants to somebody else than its owner.
_OTHERS = 0o077
#: Nobody of this process opens a file before whoever makes it has closed it.
_MAKING = Lock()


def make_private_folder(folder: Path) -> None:
    """Make a folder, and the missing ones above it, for this user alone.

    One that is there keeps its mode: `close_to_others` is for those.

    Raises:
        OSError: It cannot be made.
    """
    if folder.is_dir():
        return
    if folder.parent != folder and not folder.parent.exists():
        make_private_folder(folder.parent)
    folder.mkdir(mode=FOLDER_MODE, exist_ok=True)


def make_private_file(path: Path) -> None:
    """Make an empty file for this user alone; one that is there is not even opened.

    Closing it would take from this process every lock that it holds on the file, as POSIX has
    it, and another program would take SQLite's log for one that nobody uses.

    Raises:
        OSError: It cannot be made.
    """
    with _MAKING, suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, FILE_MODE))


def close_to_others(path: Path) -> None:
    """Take from everybody else what a file's or folder's mode grants them.

    Of what belongs to another user the mode cannot be changed: that is logged, and
    `ricalco check` tells it.
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
    """The same for a folder and all in it; quick where that has been done.

    What lies in the folder comes first and the folder itself last, so that its own mode says
    whether everything in it is closed.
    """
    if not is_open_to_others(folder):
        return
    for path in _below(folder):
        close_to_others(path)
    close_to_others(folder)


def is_open_to_others(path: Path) -> bool:
    """Whether its mode grants anything to anybody else; False where there is nothing."""
    if sys.platform == "win32":
        return False
    try:
        mode = path.stat(follow_symlinks=False).st_mode
        # A folder with the sticky bit is everybody's on purpose, such as /tmp.
        return bool(mode & _OTHERS) and not mode & stat.S_ISVTX and not stat.S_ISLNK(mode)
    except OSError:
        return False


def _below(folder: Path) -> Iterator[Path]:
    """Everything in a folder, however deep; no link is followed."""
    for place, folders, files in os.walk(folder):
        yield from (Path(place, name) for name in (*folders, *files))
