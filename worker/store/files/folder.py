"""Storage in a folder, on this machine or shared over a network.

    <root>/references/<id>/…, <root>/packs/<id>/<attempt>/…
    <root>/.work/<name>        a workspace; the process that uses it holds <name>.lock
    <root>/.work/<name>        also files that are about to be published or deleted

Workspaces are on the same volume, so that publishing is a rename: all files of a new key appear
in one step.
"""

from __future__ import annotations

import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from worker.errors import NotFound, StorageFull, StorageUnavailable
from worker.store.files.disk import (
    remove,
    sync_file,
    sync_folder,
    translated_errors,
    translated_full_disk,
)
from worker.store.files.filelock import FileLock, try_lock
from worker.store.files.privacy import (
    FOLDER_MODE,
    close_all_to_others,
    close_to_others,
    make_private_folder,
)
from worker.store.files.protocol import PROBE, ShownFile, key_parts, requested_parts

#: No new pack is begun when less than this is free.
MIN_FREE_BYTES = 64 * 2**20
#: On a disk of less than a gigabyte, this fraction of it (1/16) is enough.
SMALL_DISK_SHARE = 16
#: A workspace's folder is made within this time after its lock file.
_YOUNG_S = 2.0
_RENAME_TRIES = 10


class FolderStorage:
    """Implements `Storage`, which documents the methods."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._work = root / ".work"

    @contextmanager
    def workspace(self) -> Iterator[Path]:
        """A new folder, and a lock that shows that it is in use."""
        with translated_errors(self.root):
            folder, lock = self._take_workspace()
        try:
            with translated_full_disk():
                yield folder
        finally:
            self._remove_workspace(folder, lock)

    def publish(self, folder: Path, key: str) -> None:
        """Write the files through to the disk, then rename them into place."""
        target = self.root.joinpath(*key_parts(key))
        with translated_errors(self.root), self.workspace() as staged:
            files = [path for path in sorted(folder.iterdir()) if path.is_file()]
            for path in files:
                close_to_others(path)
                sync_file(path)
                path.replace(staged / path.name)
            sync_folder(staged)
            self._rename_into_place(staged, target)

    @contextmanager
    def file(self, key: str) -> Iterator[Path]:
        """The path of the published file itself."""
        path = self.root.joinpath(*requested_parts(key))
        if not path.is_file():
            raise NotFound("There is no such file.")
        yield path

    def holds(self, key: str) -> bool:
        """Whether the path is a file."""
        return self.root.joinpath(*requested_parts(key)).is_file()

    def presigned(self, key: str, shown: ShownFile, *, outside: bool) -> None:
        """None: only programs of this machine read a folder."""
        del shown, outside
        requested_parts(key)

    def delete(self, key: str) -> None:
        """Rename away in one step, then remove."""
        target = self.root.joinpath(*key_parts(key))
        if not target.exists():
            return
        with translated_errors(self.root):
            try:
                self._rename_away(target)
            except StorageFull:
                # On a full disk not even the folder to rename into can be made.
                remove(target)
            for parent in target.parents:
                if parent == self.root or not _remove_if_empty(parent):
                    break

    def keys(self, prefix: str) -> Iterator[str]:
        """The entries of one folder; empty folders are no keys."""
        folder = self.root.joinpath(*key_parts(prefix))
        try:
            children = sorted(folder.iterdir())
        except (FileNotFoundError, NotADirectoryError):
            return
        yield from (f"{prefix}/{path.name}" for path in children if not _is_empty(path))

    def age_s(self, key: str) -> float:
        """From the time of the last change."""
        try:
            return max(0.0, time.time() - self.root.joinpath(*key_parts(key)).stat().st_mtime)
        except FileNotFoundError:
            return 0.0

    def tidy(self) -> int:
        """Everything in the work folder for which no process holds a lock."""
        if not self._work.is_dir():
            return 0
        names = {path.name.removesuffix(".lock") for path in self._work.iterdir()}
        return sum(self._remove_if_dead(name) for name in names)

    def close_to_others(self) -> None:
        """Modes 700 for folders and 600 for files, also for those of earlier versions."""
        close_all_to_others(self.root)

    def check(self) -> None:
        """Write a small file through to the disk, read it, and check how much is free."""
        with translated_errors(self.root), self.workspace() as folder:
            probe = folder / "probe"
            probe.write_bytes(PROBE)
            sync_file(probe)
            if probe.read_bytes() != PROBE:
                message = f"What is written to {self.root} cannot be read again: look at the disk."
                raise StorageUnavailable(message)
        self.check_room()

    def check_room(self) -> None:
        """Compare the free space with a fixed minimum, or on a small disk with a share of it."""
        disk = shutil.disk_usage(self.root if self.root.is_dir() else self.root.parent)
        if disk.free < min(MIN_FREE_BYTES, disk.total // SMALL_DISK_SHARE):
            message = f"Only {disk.free // 2**20} MiB are free in {self.root}: make room."
            raise StorageFull(message)

    def _rename_away(self, target: Path) -> None:
        with self.workspace() as bin_folder, suppress(FileNotFoundError):
            target.rename(bin_folder / "gone")

    def _take_workspace(self) -> tuple[Path, FileLock]:
        folder = self._work / secrets.token_hex(12)
        make_private_folder(self._work)
        lock = try_lock(_lock_path(folder))
        if lock is None:  # The name is random, so no other process has it.
            raise AssertionError(folder)
        try:
            folder.mkdir(FOLDER_MODE)
        except OSError:
            self._remove_workspace(folder, lock)
            raise
        return folder, lock

    def _remove_workspace(self, folder: Path, lock: FileLock) -> None:
        """Remove the folder before its lock is freed, so that no folder is ever without a lock."""
        remove(folder)
        lock.release()
        _lock_path(folder).unlink(missing_ok=True)

    def _rename_into_place(self, staged: Path, target: Path) -> None:
        """Rename a folder into place, or its files where the key exists already."""
        if target.is_dir():
            for path in staged.iterdir():
                path.replace(target / path.name)
            sync_folder(target)
            return
        for tries_left in reversed(range(_RENAME_TRIES)):
            try:
                make_private_folder(target.parent)
                staged.rename(target)
                break
            except (FileNotFoundError, FileExistsError):
                # Another process deleted the empty parent between two steps; also between
                # the two steps of `mkdir`, which then reports that the folder exists.
                if not tries_left:
                    raise
        # Each of these may be new, and its own name is an entry of its parent.
        for folder in target.parents:
            sync_folder(folder)
            if folder == self.root:
                break

    def _remove_if_dead(self, name: str) -> bool:
        """Remove a workspace if no process holds its lock."""
        folder = self._work / name
        lock_path = _lock_path(folder)
        with suppress(FileNotFoundError):
            if time.time() - lock_path.stat().st_mtime < _YOUNG_S:
                return False
        with suppress(OSError):
            lock = try_lock(lock_path)
            if lock is not None:
                self._remove_workspace(folder, lock)
                return True
        return False


def _lock_path(folder: Path) -> Path:
    return folder.with_name(folder.name + ".lock")


def _is_empty(path: Path) -> bool:
    """Whether this is an empty folder, or does not exist."""
    try:
        return not path.is_file() and next(path.iterdir(), None) is None
    except PermissionError:
        # It cannot be read: the error is raised when it is deleted, and says why.
        return False
    except (FileNotFoundError, NotADirectoryError):
        return not path.exists()


def _remove_if_empty(folder: Path) -> bool:
    try:
        folder.rmdir()
    except OSError:
        return False
    return True
