"""What the driver says of connection, disk and content, as errors of ours.

SQLite tells a full disk in several ways: a page that cannot be appended is "full", but its
shared index or its log that cannot be made is an I/O error, or a file that cannot be opened.
So at such an error the disk is asked whether it is full.
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
#: https://sqlite.org/rescode.html: the main codes of what a full disk may look like, and of
#: content that contradicts itself.
_MAYBE_FULL = {10, 14}  # SQLITE_IOERR, SQLITE_CANTOPEN
_DAMAGED = {11, 26}  # SQLITE_CORRUPT, SQLITE_NOTADB


def translate_sqlalchemy_error(error: DBAPIError, file: Path | None) -> RicalcoError | None:
    """The error of ours that says the same; None: it is a fault, and stays what it is.

    Args:
        error: The driver's.
        file: The ledger's file; None on PostgreSQL.
    """
    if isinstance(error, (sa.exc.OperationalError, sa.exc.InterfaceError)) or _code(error.orig):
        return translate_driver_error(error.orig, file)
    return None


def translate_driver_error(error: BaseException | None, file: Path | None) -> RicalcoError:
    """The same for an error that SQLAlchemy has not seen."""
    text, code = str(error), _code(error)
    if "disk is full" in text or (code in _MAYBE_FULL and _no_room(file)):
        return StorageFull("The disk is full: the ledger cannot be written.")
    if code in _DAMAGED:
        return ledger_damaged(file, text)
    return LedgerUnavailable(f"The ledger cannot be used now: {text}.")


def _code(error: BaseException | None) -> int:
    """SQLite's main code, where it is one of those that are told apart here; else 0."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    return code if code in _MAYBE_FULL | _DAMAGED else 0


def ledger_damaged(file: Path | None, found: str) -> LedgerDamaged:
    """The error of a ledger whose content contradicts itself, with what can be done."""
    what = repair_advice(file) if file else "Put the last copy of before in its place."
    return LedgerDamaged(f"The ledger is damaged ({found}). {what}")


def translate_system_error(error: OSError) -> RicalcoError:
    """The same for what the system says when the ledger's file is made."""
    if is_full(error):
        return StorageFull("The disk is full: the ledger cannot be written.")
    return LedgerUnavailable(f"The ledger cannot be used now: {error.strerror}.")


def _no_room(file: Path | None) -> bool:
    try:
        return file is not None and shutil.disk_usage(file.parent).free < _NEXT_TO_NOTHING_BYTES
    except OSError:
        return False
