"""A copy of one machine's ledger and files, made while it works, and put back.

    <folder>/ledger.db
    <folder>/files/references/…, packs/…, deletions/…

The order is what makes a copy whole. The ledger comes first: the files of every row that it has
are there by then, and what is made later has no row, so upkeep deletes it after the copy was put
back. Deleted ids come last, so that what was deleted meanwhile is deleted again. The files of a
photo, or of an attempt at a pack, never change, so the next copy into the same folder takes only
new ones; it removes what was deleted since.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from worker.errors import LedgerUnavailable, NotFound, SettingInvalid
from worker.jobs.upkeep.deletion_lists import delete_again, write_list
from worker.settings import Settings
from worker.store.files import FolderStorage, Storage, open_storage
from worker.store.files.disk import sync_file, sync_folder, translated_errors
from worker.store.files.privacy import make_private_file, make_private_folder
from worker.store.ledger import Ledger, open_ledger

LEDGER, FILES = "ledger.db", "files"


@dataclass(frozen=True, kw_only=True)
class Copied:
    """What was done.

    Attributes:
        copied, removed: Photos, packs and lists that were new, and that are there no more.
        deleted_again: Lists of deletions that the ledger did not know.
    """

    copied: int
    removed: int = 0
    deleted_again: int = 0


def back_up(settings: Settings, folder: Path) -> Copied:
    """Copy the ledger and the files of these settings into a folder.

    Raises:
        SettingInvalid: The ledger is on PostgreSQL, or there is none.
        FolderNotWritable, StorageFull: The folder cannot take it.
        LedgerUnavailable: The ledger cannot be read.
    """
    source = _sqlite_file(settings)
    if not source.is_file():
        message = f"There is no ledger at {source}: RICALCO_DATA_DIR says where it is."
        raise SettingInvalid(message, field="RICALCO_DATA_DIR")
    storage, target = open_storage(settings), FolderStorage(folder / FILES)
    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        _write_lists(ledger, storage)
        with translated_errors(folder):
            make_private_folder(folder)
            _copy_ledger(source, folder / LEDGER)
        copied = _copy(storage, target, ("references", "packs"))
        removed = _remove_gone(storage, target)
        _write_lists(ledger, storage)
    return Copied(copied=copied + _copy(storage, target, ("deletions",)), removed=removed)


def restore(settings: Settings, folder: Path) -> Copied:
    """Put a copy back where these settings say, and delete again what lists name.

    Lists that are where files are kept already, as on a disk that was not lost, count too.

    Raises:
        SettingInvalid: The ledger is on PostgreSQL, there is one already, or the folder has none.
    """
    target = _sqlite_file(settings)
    source = folder / LEDGER
    if target.exists():
        message = f"There is a ledger at {target} already: move it away first, or take another."
        raise SettingInvalid(message, field="RICALCO_DATA_DIR")
    if not source.is_file():
        message = f"There is no {LEDGER} in {folder}: name the folder that a backup was made into."
        raise SettingInvalid(message)
    storage = open_storage(settings)
    copied = _copy(FolderStorage(folder / FILES), storage, ("references", "packs", "deletions"))
    with translated_errors(target.parent):
        make_private_folder(target.parent)
        _copy_ledger(source, target)
    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        return Copied(copied=copied, deleted_again=delete_again(ledger, storage))


def _write_lists(ledger: Ledger, storage: Storage) -> None:
    while write_list(ledger, storage):
        pass


def _sqlite_file(settings: Settings) -> Path:
    """The ledger's file.

    Raises:
        SettingInvalid: It is on PostgreSQL.
    """
    if not settings.ledger_url.startswith("sqlite"):
        message = (
            "RICALCO_DATABASE_URL names PostgreSQL, which is copied with its own tools: pg_dump "
            "first, then the files. See deploy/BACKUP.md."
        )
        raise SettingInvalid(message, field="RICALCO_DATABASE_URL")
    return Path(settings.ledger_url.split(":///", 1)[1])


def _copy_ledger(source: Path, target: Path) -> None:
    """Copy a SQLite file with SQLite's online backup, which others may write during.

    All pages are copied in one step (SQLite, "Using the SQLite Online Backup API"): that reads
    one state of the ledger, which its log keeps meanwhile.
    """
    new = target.with_name(f"{target.name}.new")
    new.unlink(missing_ok=True)
    make_private_file(new)
    try:
        with closing(sqlite3.connect(source)) as read, closing(sqlite3.connect(new)) as written:
            read.backup(written)
            # A file alone, without a log beside it.
            written.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        new.unlink(missing_ok=True)
        raise LedgerUnavailable(f"The ledger cannot be copied: {error}.") from error
    sync_file(new)
    new.replace(target)
    sync_folder(target.parent)


def _keys(storage: Storage, kind: str) -> Iterator[str]:
    """The keys under which files were published."""
    for key in storage.keys(kind):
        yield from storage.keys(key) if kind == "packs" else (key,)


def _copy(source: Storage, target: Storage, kinds: tuple[str, ...]) -> int:
    """Copy what the target does not have; returns how many keys."""
    copied = 0
    for kind in kinds:
        there = set(_keys(target, kind))
        for key in _keys(source, kind):
            copied += key not in there and _copy_one(source, target, key)
    return copied


def _copy_one(source: Storage, target: Storage, key: str) -> bool:
    """Copy the files of one key; False where it was deleted meanwhile."""
    with target.workspace() as folder:
        for file in source.keys(key):
            with suppress(NotFound), source.file(file) as path:
                shutil.copyfile(path, folder / file.rpartition("/")[2])
        if not any(folder.iterdir()):
            return False
        target.publish(folder, key)
    return True


def _remove_gone(source: Storage, target: Storage) -> int:
    """Remove from the copy what is not there any more; returns how many keys.

    Where the source has nothing at all its disk is missing, rather than everything deleted.
    """
    kinds = ("references", "packs")
    there = {key for kind in kinds for key in _keys(source, kind)}
    gone = [key for kind in kinds for key in _keys(target, kind) if key not in there]
    if not there:
        return 0
    for key in gone:
        target.delete(key)
    return len(gone)
