"""Whether a SQLite ledger's content is consistent.

SQLite reads a page only when it needs it, so damage may stay unnoticed for weeks, and by then
the backups from before it are gone. `PRAGMA quick_check` reads every page; it takes some 0.3 s
for 180 MB in the system's cache. SQLite cannot be stopped in the middle of it, so it is not done
at the start for a larger ledger; `ricalco check` checks any.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

#: Largest ledger that is checked at a start; a class of thirty takes a few megabytes a year.
START_BYTES = 256 * 2**20
_MOST_FINDINGS = 3
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


def find_damage(file: Path, *, whole: bool = False) -> str:
    """Describe what is wrong with a ledger's content.

    Args:
        file: A SQLite file, which need not exist.
        whole: Check a ledger of any size, and compare indexes with their tables as well.

    Returns:
        SQLite's findings; "" where there are none, or no file.
    """
    try:
        size = file.stat().st_size
    except OSError:
        return ""
    if not size or (size > START_BYTES and not whole):
        return ""
    try:
        # Read-only: a check must not write the log into a damaged ledger.
        url = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(url, uri=True, isolation_level=None)) as connection:
            return _findings(connection, "integrity_check" if whole else "quick_check")
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        return str(error) if code in _DAMAGED else ""


def repair_advice(file: Path) -> str:
    """How an operator can repair a damaged ledger."""
    return (
        f"Stop the service and keep a copy of {file} with {file.name}-wal. Then put the last copy "
        f"of before in its place, or save what can be read: "
        f'sqlite3 {file.name} ".recover" | sqlite3 recovered.db'
    )


def _findings(connection: sqlite3.Connection, look: str) -> str:
    found = connection.execute(f"PRAGMA {look}({_MOST_FINDINGS})").fetchall()
    lines = [str(line).strip() for (text,) in found for line in str(text).splitlines()]
    return "" if lines == ["ok"] else "; ".join(one for one in lines if not one.startswith("***"))
