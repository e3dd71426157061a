"""Storage in a folder, on this machine or shared over a network.

    <root>/references/<id>/…, <root>/packs/<id>/<attempt>/…
    <root>/.work/<name>        a workspace, with <name>.lock held by who uses it
    <root>/.work/<name>        also what is about to appear or to vanish

Workspaces lie on the same volume, so that publishing is a rename: all files of a new key
appear in one step.
"""

from __future__ import annotations

import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from worker.errors import NotFound, StorageFull
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
from worker.store.files.protocol import key_parts, requested_parts

#: Less free than this and no new pack is worth beginning.
MIN_FREE_BYTES = 64 * 2**20
#: Of a disk of less than a gigabyte, one part in so many.
SMALL_DISK_SHARE = 16
#: A workspace is taken up within this time of its lock's being made.
_YOUNG_S = 2.0
_RENAME_TRIES = 10


class FolderStorage:
    """See `Storage`; what a method promises is written there."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._work = root / ".work"

    @contextmanager
    def workspace(self) -> Iterator[Path]:
        """A fresh folder, and a lock that says it is in use."""
        with translated_errors(self.root):
            folder, lock = self._take_workspace()
        try:
            with translated_full_disk():
                yield folder
        finally:
            self._give_back(folder, lock)

    def publish(self, folder: Path, key: str) -> None:
        """Write through to the disk, then rename."""
        target = self.root.joinpath(*key_parts(key))
        with translated_errors(self.root), self.workspace() as staged:
            files = [path for path in sorted(folder.iterdir()) if path.is_file()]
            for path in files:
                close_to_others(path)
                sync_file(path)
                path.replace(staged / path.name)
            sync_folder(staged)
            self._appear(staged, target)

    @contextmanager
    def file(self, key: str) -> Iterator[Path]:
        """The file where it lies."""
        path = self.root.joinpath(*requested_parts(key))
        if not path.is_file():
            raise NotFound("There is no such file.")
        yield path

    def delete(self, key: str) -> None:
        """Vanish in one step, then remove at leisure."""
        target = self.root.joinpath(*key_parts(key))
        if not target.exists():
            return
        with translated_errors(self.root):
            try:
                self._vanish(target)
            except StorageFull:
                # On a full disk not even a folder can be made to vanish into.
                remove(target)
            for parent in target.parents:
                if parent == self.root or not _remove_if_empty(parent):
                    break

    def keys(self, prefix: str) -> Iterator[str]:
        """Names of one folder; empty folders are no keys."""
        folder = self.root.joinpath(*key_parts(prefix))
        try:
            children = sorted(folder.iterdir())
        except (FileNotFoundError, NotADirectoryError):
            return
        yield from (f"{prefix}/{path.name}" for path in children if not _is_empty(path))

    def age_s(self, key: str) -> float:
        """By the time of the last change."""
        try:
            return max(0.0, time.time() - self.root.joinpath(*key_parts(key)).stat().st_mtime)
        except FileNotFoundError:
            return 0.0

    def tidy(self) -> int:
        """Whatever lies in the work folder without a lock that is held."""
        if not self._work.is_dir():
            return 0
        names = {path.name.removesuffix(".lock") for path in self._work.iterdir()}
        return sum(self._remove_if_dead(name) for name in names)

    def close_to_others(self) -> None:
        """Folders 700 and files 600, also those of before."""
        close_all_to_others(self.root)

    def check(self) -> None:
        """Write a small file through to the disk, and look how much is free."""
        with translated_errors(self.root), self.workspace() as folder:
            probe = folder / "probe"
            probe.write_bytes(b"\0" * 4096)
            sync_file(probe)
        self.check_room()

    def check_room(self) -> None:
        """By what the disk says that it has free; on a small one a share of it is asked for."""
        disk = shutil.disk_usage(self.root if self.root.is_dir() else self.root.parent)
        if disk.free < min(MIN_FREE_BYTES, disk.total // SMALL_DISK_SHARE):
            message = f"Only {disk.free // 2**20} MiB are free in {self.root}: make room."
            raise StorageFull(message)

    def _vanish(self, target: Path) -> None:
        with self.workspace() as bin_folder, suppress(FileNotFoundError):
            target.rename(bin_folder / "gone")

    def _take_workspace(self) -> tuple[Path, FileLock]:
        folder = self._work / secrets.token_hex(12)
        make_private_folder(self._work)
        lock = try_lock(_lock_path(folder))
        if lock is None:  # Nobody else can know this name.
            raise AssertionError(folder)
        try:
            folder.mkdir(FOLDER_MODE)
        except OSError:
            self._give_back(folder, lock)
            raise
        return folder, lock

    def _give_back(self, folder: Path, lock: FileLock) -> None:
        """Remove the folder first, so that a free lock never guards a live one."""
        remove(folder)
        lock.release()
        _lock_path(folder).unlink(missing_ok=True)

    def _appear(self, staged: Path, target: Path) -> None:
        """Rename a folder into place, or its files where the key is there already."""
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
                # A deletion next door removed the empty parent between two steps; also
                # between the two of `mkdir`, which then says that the folder is there.
                if not tries_left:
                    raise
        # Any of these may have been made with it, and its name lies in the one above.
        for folder in target.parents:
            sync_folder(folder)
            if folder == self.root:
                break

    def _remove_if_dead(self, name: str) -> bool:
        """Remove a workspace whose lock nobody holds."""
        folder = self._work / name
        lock_path = _lock_path(folder)
        with suppress(FileNotFoundError):
            if time.time() - lock_path.stat().st_mtime < _YOUNG_S:
                return False
        with suppress(OSError):
            lock = try_lock(lock_path)
            if lock is not None:
                self._give_back(folder, lock)
                return True
        return False


def _lock_path(folder: Path) -> Path:
    return folder.with_name(folder.name + ".lock")


def _is_empty(path: Path) -> bool:
    """A folder with nothing in it, or nothing at all."""
    try:
        return not path.is_file() and next(path.iterdir(), None) is None
    except PermissionError:
        # Nobody may look, so it is for whoever deletes it to say why that cannot be.
        return False
    except (FileNotFoundError, NotADirectoryError):
        return not path.exists()


def _remove_if_empty(folder: Path) -> bool:
    try:
        folder.rmdir()
    except OSError:
        return False
    return True
