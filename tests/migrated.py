"""Ledgers with all their tables, whose migrations ran once for all tests of a process.

Running them takes longer than most tests of a ledger do. That they lead to the tables that the
code knows is tested by itself, on both databases.
"""

from __future__ import annotations

import functools
import tempfile
from pathlib import Path

from worker.store.files.privacy import make_private_file
from worker.store.ledger import Ledger


def migrated(ledger: Ledger) -> Ledger:
    """The ledger, which was new and empty, as after `migrate()`."""
    file = ledger._database.file
    if file is None:
        ledger.migrate()
    else:
        make_private_file(file)
        file.write_bytes(_empty_ledger())
    return ledger


@functools.cache
def _empty_ledger() -> bytes:
    """SQLite's file of a ledger that is at the newest step and has nothing in it."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ledger.db"
        ledger = Ledger.open(f"sqlite:///{file.as_posix()}")
        ledger.migrate()
        # The last connection that is closed moves the log into the file.
        ledger.close()
        return file.read_bytes()
