"""Whether a SQLite ledger's content is sound.

SQLite reads a page only when it needs it, so overwritten bytes may lie for weeks before anyone
meets them, and by then the copies from before are gone. `PRAGMA quick_check` reads every page,
which takes some 0.3 s for 180 MB that the system holds in memory; SQLite cannot be stopped in
the middle of it, so a start looks at no larger ledger. `ricalco check` looks at any.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

#: What a start looks at; a class of thirty takes a few megabytes in a year.
START_BYTES = 256 * 2**20
_MOST_FINDINGS = 3
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


def find_damage(file: Path, *, whole: bool = False) -> str:
    """What is wrong with a ledger's content; "" where nothing was found.

    Args:
        file: A SQLite file; where there is none, nothing is wrong.
        whole: However large it is, and indexes are compared with their tables as well.
    """
    try:
        size = file.stat().st_size
    except OSError:
        return ""
    if not size or (size > START_BYTES and not whole):
        return ""
    try:
        # Read-only: a look must not write the log into a ledger that is damaged.
        url = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(url, uri=True, isolation_level=None)) as connection:
            return _findings(connection, "integrity_check" if whole else "quick_check")
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        return str(error) if code in _DAMAGED else ""


def repair_advice(file: Path) -> str:
    """What can be done about a damaged ledger."""
    return (
        f"Stop the service and keep a copy of {file} with {file.name}-wal. Then put the last copy "
        f"of before in its place, or save what can be read: "
        f'sqlite3 {file.name} ".recover" | sqlite3 recovered.db'
    )


def _findings(connection: sqlite3.Connection, look: str) -> str:
    found = connection.execute(f"PRAGMA {look}({_MOST_FINDINGS})").fetchall()
    told = [str(line).strip() for (text,) in found for line in str(text).splitlines()]
    return "" if told == ["ok"] else "; ".join(one for one in told if not one.startswith("***"))
