"""Copies of stored objects on this machine, so that a photo is not fetched for every plan.

A copy is named for its object and for the object's entity tag, so it is never stale. Whoever reads
one has a link of their own in a workspace: another process may throw the copy away meanwhile.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from worker.store.files.folder import FolderStorage
from worker.store.files.privacy import make_private_folder

#: Together they take no more than this; those that were read longest ago go first.
MOST_BYTES = 2 * 2**30


class Copies:
    """Copies in a folder that all processes of a machine share."""

    def __init__(self, folder: Path, local: FolderStorage, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._local = local
        self._most = most_bytes

    @contextmanager
    def copy(self, key: str, tag: str, fetch: Callable[[Path], None]) -> Iterator[Path]:
        """A file with the object's contents while the context lasts; it keeps the object's name.

        Args:
            key: The object.
            tag: Its entity tag.
            fetch: Writes the object into a file; called where there is no copy.
        """
        kept = self._folder / hashlib.sha256(f"{key}\n{tag}".encode()).hexdigest()
        with self._local.workspace() as work:
            mine = work / key.rpartition("/")[2]
            try:
                os.link(kept, mine)
                os.utime(kept)
            except FileNotFoundError:
                fetch(mine)
                self._keep(mine, kept)
            yield mine

    def _keep(self, mine: Path, kept: Path) -> None:
        """Keep a copy unless there is one, and throw old ones away."""
        make_private_folder(self._folder)
        with suppress(FileExistsError):
            os.link(mine, kept)
        self._make_room(kept)

    def _make_room(self, newest: Path) -> None:
        seen = []
        for path in self._folder.iterdir():
            with suppress(FileNotFoundError):
                state = path.stat()
                seen.append((state.st_mtime, state.st_size, path))
        total = sum(size for _, size, _ in seen)
        for _, size, path in sorted(seen):
            if total <= self._most or path == newest:
                return
            path.unlink(missing_ok=True)
            total -= size
