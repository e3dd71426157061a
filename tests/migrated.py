"""Ledgers with all their tables, whose migrations ran once for all tests of a process.

Running them takes longer than most tests of a ledger do. That they lead to the tables that the
code knows is tested by itself, on both databases.
"""

from __future__ import annotations

import functools
import tempfile
from pathlib import Path
from typing import Any

import sqlalchemy as sa

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
        _share_statements(ledger._database.engine)
    return ledger


#: Statements as SQL, for all ledgers of a process.
_STATEMENTS: dict[Any, Any] = {}


def _share_statements(engine: sa.Engine) -> None:
    """Have each statement written as SQL once for all ledgers of a process.

    Doing so again in each test takes longer than running them. SQLAlchemy keeps what it wrote by
    dialect, of which each engine has its own, though those of SQLite are all alike.
    """
    engine.dialect = _dialect()
    engine.update_execution_options(compiled_cache=_STATEMENTS)


@functools.cache
def _dialect() -> sa.Dialect:
    """SQLite's, with what it learns of its driver by the first connection."""
    engine = sa.create_engine("sqlite://")
    with engine.connect() as connection:
        dialect = connection.dialect
    engine.dispose()
    return dialect


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
