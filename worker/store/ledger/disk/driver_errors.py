"""The database driver's errors of connection, disk and content as errors of ours.

SQLite reports a full disk in several ways: a page that cannot be appended is "full", but a
shared index or a log that cannot be made is an I/O error, or a file that cannot be opened. So
after such an error the free space of the disk is checked.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from worker.errors import LedgerDamaged, LedgerUnavailable, RicalcoError, StorageFull
from worker.store.files.disk import is_full
from worker.store.ledger.disk.integrity import repair_advice

#: A disk with less than this free has no room for SQLite's own files.
_NEXT_TO_NOTHING_BYTES = 256 * 1024
#: https://sqlite.org/rescode.html: primary result codes that a full disk may cause, and those
#: of inconsistent content.
_MAYBE_FULL = {10, 14}  # SQLITE_IOERR, SQLITE_CANTOPEN
_DAMAGED = {11, 26}  # SQLITE_CORRUPT, SQLITE_NOTADB


def translate_sqlalchemy_error(error: DBAPIError, file: Path | None) -> RicalcoError | None:
    """The error of ours with the same meaning.

    Args:
        error: As SQLAlchemy raised it.
        file: The ledger's file; None on PostgreSQL.

    Returns:
        None where there is no such error: then it is a fault of the program.
    """
    if isinstance(error, (sa.exc.OperationalError, sa.exc.InterfaceError)) or _code(error.orig):
        return translate_driver_error(error.orig, file)
    return None


def translate_driver_error(error: BaseException | None, file: Path | None) -> RicalcoError:
    """The same for the driver's own error, which SQLAlchemy did not wrap."""
    text, code = str(error), _code(error)
    if "disk is full" in text or (code in _MAYBE_FULL and _no_room(file)):
        return StorageFull("The disk is full: the ledger cannot be written.")
    if code in _DAMAGED:
        return ledger_damaged(file, text)
    return LedgerUnavailable(f"The ledger cannot be used now: {text}.")


def _code(error: BaseException | None) -> int:
    """SQLite's primary result code if it is one of those above; else 0."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return code if code in _MAYBE_FULL | _DAMAGED else 0


def ledger_damaged(file: Path | None, found: str) -> LedgerDamaged:
    """The error of a ledger with inconsistent content, and how to repair it."""
    what = repair_advice(file) if file else "Put the last copy of before in its place."
    return LedgerDamaged(f"The ledger is damaged ({found}). {what}")


def translate_system_error(error: OSError) -> RicalcoError:
    """The same for an error of the system while the ledger's file is made."""
    if is_full(error):
        return StorageFull("The disk is full: the ledger cannot be written.")
    return LedgerUnavailable(f"The ledger cannot be used now: {error.strerror}.")


def _no_room(file: Path | None) -> bool:
    try:
        return file is not None and shutil.disk_usage(file.parent).free < _NEXT_TO_NOTHING_BYTES
    except OSError:
        return False
