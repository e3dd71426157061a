"""One connection pool, and the two ways to use it: reading and writing.

SQLite's default transactions lost two of three concurrent read-then-write updates when
we measured, without an error, and a plain `BEGIN` ended in "database is locked". So the
driver's own transactions are switched off and every write begins with `BEGIN IMMEDIATE`.
The journal is a write-ahead log with full synchronisation: what was committed survives a
power cut, and an accepted pack is a committed one.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry

from worker.errors import FolderNotWritable, LedgerUnavailable, OutcomeUnknown, StorageFull

#: How long a statement waits for another writer.
BUSY_MS = 10_000
#: How long scrubbing waits for readers; the next one, or any busy hour, does it as well.
SCRUB_MS = 500
_WRITES = "ricalco_writes"
_FULL = "disk is full"
_DRIVER = "for PostgreSQL install ricalco[postgresql]; others than it and SQLite are not known."
#: The time within a transaction, and not that of its beginning.
_NOW_POSTGRESQL = sa.select(sa.extract("epoch", sa.func.clock_timestamp()))
_CHANGES_POSTGRESQL = "SELECT pg_snapshot_xmax(pg_current_snapshot())::text::bigint"


class Database:
    """The engine of one ledger, for all threads of one process."""

    def __init__(self, url: str) -> None:
        """Prepare, without connecting.

        Raises:
            FolderNotWritable: The folder of a SQLite file cannot be made.
            LedgerUnavailable: The URL is not understood, or its driver is missing.
        """
        try:
            parsed = sa.make_url(url)
            self.sqlite = parsed.get_backend_name() == "sqlite"
            _make_folder(parsed) if self.sqlite else None
            # An error that is logged must not tell what was to be written: names, titles.
            self.engine = sa.create_engine(
                parsed, pool_pre_ping=not self.sqlite, hide_parameters=True
            )
        except ImportError as error:
            message = f"The ledger's driver is missing ({error}): {_DRIVER}"
            raise LedgerUnavailable(message) from error
        except SQLAlchemyError as error:
            message = f"The ledger's URL cannot be used: {error}."
            raise LedgerUnavailable(message) from error
        if self.sqlite:
            event.listen(self.engine, "connect", _prepare)
            event.listen(self.engine, "begin", _begin)
        self._watching: Any = None
        self._watch_lock = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection that sees one state of the ledger."""
        with _told_plainly(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction: committed at the end, rolled back on any error.

        Raises:
            OutcomeUnknown: The commit was sent, and its answer was lost. After every other
                error nothing was changed.
        """
        with _told_plainly(), self.engine.connect() as connection:
            connection = connection.execution_options(**{_WRITES: True})  # noqa: PLW2901
            with connection.begin() as transaction:
                yield connection
                with _commit_told(connection):
                    transaction.commit()

    def now(self, connection: sa.Connection) -> float:
        """Seconds since 1970 by the ledger's own clock, which all machines share.

        A SQLite ledger is one machine's, and so is its clock.
        """
        if self.sqlite:
            return time.time()
        return float(connection.execute(_NOW_POSTGRESQL).scalar_one())

    def changes(self) -> int:
        """A number that differs whenever someone else has committed since the last call.

        On SQLite `PRAGMA data_version`, which reads a word of shared memory and may be
        asked every few milliseconds. The connection is kept, because the number means
        something only when compared on the same one.
        """
        with self._watch_lock, _told_plainly():
            if self._watching is None:
                self._watching = self.engine.raw_connection()
            try:
                return self._number(self._watching)
            except self.engine.dialect.loaded_dbapi.Error as error:
                # The driver's own error, which SQLAlchemy has not seen. A connection that
                # broke stays broken: the next call takes another.
                self._watching.invalidate()
                self._watching = None
                raise LedgerUnavailable(f"The ledger cannot be watched now: {error}.") from error

    def _number(self, watching: Any) -> int:
        cursor = watching.cursor()
        cursor.execute("PRAGMA data_version" if self.sqlite else _CHANGES_POSTGRESQL)
        number = int(cursor.fetchone()[0])
        cursor.close()
        if not self.sqlite:
            watching.rollback()
        return number

    def scrub(self) -> None:
        """Write the log of changes into the ledger and empty it, if nobody reads just now.

        What was deleted would stay in it until other changes happened to overwrite it. On
        PostgreSQL vacuuming is the operator's. The deletion is committed before, so what goes
        wrong here is left to the next one.
        """
        if not self.sqlite:
            return
        failed = (self.engine.dialect.loaded_dbapi.Error, SQLAlchemyError)
        with suppress(*failed), closing(self.engine.raw_connection()) as connection:
            cursor = connection.cursor()
            cursor.execute(f"PRAGMA busy_timeout={SCRUB_MS}")
            with suppress(*failed):
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                cursor.fetchall()
            cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")
            cursor.close()

    def close(self) -> None:
        """Give all connections back."""
        with self._watch_lock:
            if self._watching is not None:
                self._watching.close()
                self._watching = None
        self.engine.dispose()


def _make_folder(url: sa.URL) -> None:
    """Make the folder that the SQLite file lies in."""
    if not url.database or url.database == ":memory:":
        message = "The ledger must be a file: several processes share it."
        raise LedgerUnavailable(message)
    folder = Path(url.database).parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"The folder {folder} cannot be made: {error.strerror}."
        raise FolderNotWritable(message) from error


def _prepare(connection: sqlite3.Connection, _entry: ConnectionPoolEntry) -> None:
    """Set up a new SQLite connection."""
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")
    _write_ahead(cursor)
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    # What is deleted is overwritten: names and titles must not stay in free pages.
    cursor.execute("PRAGMA secure_delete=ON")
    cursor.close()


def _write_ahead(cursor: sqlite3.Cursor) -> None:
    """Switch to the write-ahead log.

    Only the first switch ever needs the file for itself, and for that one SQLite does
    not wait: two processes that start together must try again.
    """
    deadline = time.monotonic() + BUSY_MS / 1000
    while True:
        try:
            cursor.execute("PRAGMA journal_mode=WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)
        else:
            return


def _begin(connection: sa.Connection) -> None:
    """Begin as a writer from the start, so that nothing read is stale when written."""
    writes = connection.get_execution_options().get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _commit_told(connection: sa.Connection) -> Iterator[None]:
    """Tell a commit that may have been done from one that was refused.

    The connection is not used again: SQLite leaves a transaction that could not be committed
    open, and the pool takes it for ended.
    """
    try:
        yield
    except (sa.exc.OperationalError, sa.exc.InterfaceError) as error:
        connection.invalidate()
        if _FULL in str(error.orig):
            # SQLite says so before the log has the transaction's last page.
            raise
        message = (
            f"The ledger went away while this was written: {error.orig}. It may be done or not: "
            "look before you ask for it again."
        )
        raise OutcomeUnknown(message) from error


@contextmanager
def _told_plainly() -> Iterator[None]:
    """Turn the driver's connection and disk errors into ours."""
    try:
        yield
    except DBAPIError as error:
        text = str(error.orig)
        if _FULL in text:
            message = "The disk is full: the ledger cannot be written."
            raise StorageFull(message) from error
        if isinstance(error, (sa.exc.OperationalError, sa.exc.InterfaceError)):
            message = f"The ledger cannot be used now: {text}."
            raise LedgerUnavailable(message) from error
        raise
