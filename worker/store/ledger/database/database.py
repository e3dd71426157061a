"""One connection pool, with transactions for reading and for writing.

With SQLite's default transactions two of three concurrent read-then-write updates were lost
without an error (measured), and a plain `BEGIN` ended in "database is locked". So the driver's
own transactions are switched off, and every transaction that writes begins with
`BEGIN IMMEDIATE`. The journal is a write-ahead log with full synchronisation, so a committed
transaction survives a power cut; a pack is accepted when it is committed.
"""

from __future__ import annotations

import logging
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry

from worker.errors import (
    FolderNotWritable,
    LedgerUnavailable,
    OutcomeUnknown,
    RicalcoError,
    StorageFull,
)
from worker.store.files.privacy import (
    close_all_to_others,
    close_to_others,
    make_private_file,
    make_private_folder,
)
from worker.store.ledger.database.fork_guard import FORK_GUARD
from worker.store.ledger.database.server_clock import ServerClock
from worker.store.ledger.disk import scrubbing
from worker.store.ledger.disk.driver_errors import (
    translate_driver_error,
    translate_sqlalchemy_error,
    translate_system_error,
)
from worker.store.ledger.disk.reserve import Reserve

#: How long a statement waits for another writer.
BUSY_MS = 10_000
#: Most connections of one process to PostgreSQL, unless a setting says otherwise. A connection is
#: held for the milliseconds of one transaction, never while a photo is read or a client waits, so
#: the threads of a process share few; and all processes together must stay below the server's
#: `max_connections`, 100 where nobody has set it (PostgreSQL 15, 20.3.1).
CONNECTIONS = 8
#: How long a thread waits for a free one, in s; then the ledger counts as unavailable.
_CONNECTION_WAIT_S = 10.0
#: How long emptying the log waits for readers right after a deletion, and in upkeep.
SCRUB_MS, UPKEEP_SCRUB_MS = 500, 50
_LOG = logging.getLogger(__name__)
_WRITES = "ricalco_writes"
_DRIVER = "for PostgreSQL install ricalco[postgresql]; others than it and SQLite are not known."
#: The time of the statement, not that at which the transaction began.
_NOW_POSTGRESQL = sa.select(sa.extract("epoch", sa.func.clock_timestamp()))
#: What libpq (PostgreSQL's own client) does with a server that has vanished: a connection is
#: given up after seconds. Without these the system tries for a quarter of an hour to send, and
#: listens for two hours (Linux, tcp(7): tcp_retries2, tcp_keepalive_time).
_VANISHED = {
    "connect_timeout": 5,
    "tcp_user_timeout": 20_000,  # In ms.
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 2,
}
_T = TypeVar("_T")
_CHANGES_POSTGRESQL = "SELECT pg_snapshot_xmax(pg_current_snapshot())::text::bigint"


class Database:
    """The engine of one ledger, for all threads of one process."""

    def __init__(self, url: str, connections: int = CONNECTIONS) -> None:
        """Prepare, without connecting.

        Args:
            url: SQLAlchemy's URL.
            connections: Most connections to PostgreSQL; who needs another waits.

        Raises:
            FolderNotWritable: The folder of a SQLite file cannot be made.
            LedgerUnavailable: The URL is not understood, or its driver is missing.
        """
        try:
            parsed = sa.make_url(url)
            self.sqlite = parsed.get_backend_name() == "sqlite"
            #: SQLite's file, and the disk space that is reserved for it; None on PostgreSQL.
            self.file = _file_of(parsed) if self.sqlite else None
            self.reserve = Reserve(self.file.parent / "reserve") if self.file else None
            pool = {} if self.sqlite else _pool(connections)
            # A logged error must not contain the values, which are names and titles.
            self.engine = sa.create_engine(parsed, hide_parameters=True, **pool)
        except ImportError as error:
            message = f"The ledger's driver is missing ({error}): {_DRIVER}"
            raise LedgerUnavailable(message) from error
        except SQLAlchemyError as error:
            message = f"The ledger's URL cannot be used: {error}."
            raise LedgerUnavailable(message) from error
        if self.sqlite:
            event.listen(self.engine, "do_connect", self._close_to_others)
            event.listen(self.engine, "connect", _prepare)
            event.listen(self.engine, "begin", _begin)
        else:
            event.listen(self.engine, "do_connect", _bound_waiting)
        self._clock = None if self.sqlite else ServerClock(self._ask_time)
        self._watching: Any = None
        self._watch_lock = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that only reads, and sees one state of the ledger."""
        with self._translated_errors(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction: committed at the end, rolled back on any error.

        Raises:
            OutcomeUnknown: The commit was sent and its answer was lost. After any other error
                nothing was changed.
        """
        with (
            FORK_GUARD.writing(),
            self._translated_errors(),
            self.engine.connect() as connection,
        ):
            connection = connection.execution_options(**{_WRITES: True})  # noqa: PLW2901
            with connection.begin() as transaction:
                yield connection
                with _translated_commit_errors(connection, self.file):
                    transaction.commit()

    @contextmanager
    def outside(self) -> Iterator[sa.Connection]:
        """A connection whose statements are in no transaction, for what PostgreSQL wants so."""
        with self._translated_errors(), self.engine.connect() as connection:
            yield connection.execution_options(isolation_level="AUTOCOMMIT")

    def now(self, connection: sa.Connection) -> float:
        """Seconds since 1970 by the database server's clock, which all machines share."""
        return server_time(connection)

    def time(self) -> float:
        """The same where no connection is at hand; the server is asked every few seconds."""
        return time.time() if self._clock is None else self._clock()

    def _ask_time(self) -> float:
        with self.reading() as connection:
            return server_time(connection)

    def changes(self) -> int:
        """A number that changes whenever another connection has committed since the last call.

        On SQLite this is `PRAGMA data_version`, which reads a word of shared memory and may be
        called every few milliseconds. All calls use one connection, since numbers of different
        connections cannot be compared.
        """
        with self._watch_lock, self._translated_errors():
            if self._watching is None:
                self._watching = self.engine.raw_connection()
            try:
                return self._number(self._watching)
            except self.engine.dialect.loaded_dbapi.Error as error:
                # The driver's own error, which SQLAlchemy did not wrap. A connection that broke
                # stays broken, so the next call opens another.
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

    def write_with_reserve(self, act: Callable[[sa.Connection], _T]) -> _T:
        """Run `act` in a transaction that may use the reserve when the disk is full."""

        def written() -> _T:
            with self.writing() as connection:
                return act(connection)

        return self.retry_with_reserve(written)

    def delete_with_reserve(self, act: Callable[[sa.Connection], _T]) -> _T:
        """The same for an `act` that deletes; its traces are then removed from the log as well."""

        def marked(connection: sa.Connection) -> _T:
            done = act(connection)
            scrubbing.mark_due(connection) if self.sqlite else None
            return done

        done = self.write_with_reserve(marked)
        self.scrub(SCRUB_MS)
        if self.reserve is not None:
            # The room that emptying the log freed is reserved for the next deletion.
            self.reserve.refill()
        return done

    def retry_with_reserve(self, act: Callable[[], _T]) -> _T:
        """Run `act`; while the disk is full, release a piece of the reserve and run it again.

        Raises:
            StorageFull: The whole reserve was not enough.
        """
        while True:
            try:
                return act()
            except StorageFull:
                if not self._make_room():
                    raise

    def _make_room(self) -> bool:
        """Release the reserve until the log can be written into the ledger's file and reused.

        Writing the log may make the ledger's file longer. It is done before anything is added to
        the log, which would otherwise use up the room and not free it again.

        Returns:
            Whether any of the reserve was released.
        """
        released = False
        while self.reserve is not None and self.reserve.release_piece():
            released = True
            try:
                self._empty_log(0, truncate=False)
            except StorageFull:
                continue
            break
        return released

    def scrub(self, patience_ms: int = UPKEEP_SCRUB_MS) -> bool:
        """Empty the write-ahead log if that is due.

        The deletion is committed already, so an error here undoes nothing, and emptying stays due.

        Returns:
            False where it is due and could not be done now.
        """
        if not self.sqlite:
            return True
        try:
            with self.reading() as connection:
                token = scrubbing.due_token(connection)
            if token and self._empty_log(patience_ms):
                with self.writing() as connection:
                    scrubbing.mark_done(connection, token)
                return True
        except RicalcoError as error:
            _LOG.warning("What was deleted is still in the ledger's log: %s", error)
            return False
        return not token

    def _empty_log(self, patience_ms: int, *, truncate: bool = True) -> bool:
        with self._translated_errors(), closing(self.engine.raw_connection()) as connection:
            try:
                return scrubbing.empty_log(connection, patience_ms, truncate=truncate)
            except self.engine.dialect.loaded_dbapi.Error as error:
                raise translate_driver_error(error, self.file) from error

    def _close_to_others(self, *_: object) -> None:
        """Set the mode of the ledger's file; SQLite gives its other files the same mode.

        Raises:
            StorageFull, LedgerUnavailable: The file cannot be made.
        """
        assert self.file is not None  # noqa: S101 -- The listener is added on SQLite alone.
        try:
            make_private_file(self.file)
        except OSError as error:
            raise translate_system_error(error) from error
        for ending in ("", "-wal", "-shm"):
            close_to_others(self.file.with_name(self.file.name + ending))
        close_all_to_others(self.file.parent / "reserve")

    @contextmanager
    def _translated_errors(self) -> Iterator[None]:
        """Turn the driver's errors of connection, disk and content into errors of ours."""
        try:
            yield
        except sa.exc.TimeoutError as error:
            message = "All connections to the ledger are in use: try again in a few seconds."
            raise LedgerUnavailable(message) from error
        except DBAPIError as error:
            plain = translate_sqlalchemy_error(error, self.file)
            if plain is None:
                raise
            raise plain from error

    def close(self) -> None:
        """Close all connections."""
        with self._watch_lock:
            if self._watching is not None:
                self._watching.close()
                self._watching = None
        self.engine.dispose()


def _pool(connections: int) -> dict[str, Any]:
    """How connections to a server are kept; a lost one is found before it is used."""
    return {
        "pool_size": connections,
        "max_overflow": 0,
        "pool_timeout": _CONNECTION_WAIT_S,
        "pool_pre_ping": True,
    }


def server_time(connection: sa.Connection) -> float:
    """Seconds since 1970 by the database server's clock.

    A SQLite ledger is used by one machine, and its clock is read.
    """
    if connection.dialect.name == "sqlite":
        return time.time()
    return float(connection.execute(_NOW_POSTGRESQL).scalar_one())


def _file_of(url: sa.URL) -> Path:
    """The path of the SQLite file; its folder is made where it is missing.

    Raises:
        LedgerUnavailable: The URL names no file.
        FolderNotWritable: The folder cannot be made.
    """
    if not url.database or url.database == ":memory:":
        message = "The ledger must be a file: several processes share it."
        raise LedgerUnavailable(message)
    file = Path(url.database)
    try:
        make_private_folder(file.parent)
    except OSError as error:
        message = f"The folder {file.parent} cannot be made: {error.strerror}."
        raise FolderNotWritable(message) from error
    return file


def _prepare(connection: sqlite3.Connection, _entry: ConnectionPoolEntry) -> None:
    """Set up a new SQLite connection."""
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout={BUSY_MS}")
    _write_ahead(cursor)
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    # Deleted rows are overwritten: names and titles must not stay in free pages.
    cursor.execute("PRAGMA secure_delete=ON")
    cursor.close()


def _bound_waiting(*arguments: Any) -> None:
    """Have a new connection notice that the server has vanished; what the URL says goes first."""
    parameters: dict[str, Any] = arguments[-1]
    for name, value in _VANISHED.items():
        parameters.setdefault(name, value)


def _write_ahead(cursor: sqlite3.Cursor) -> None:
    """Switch to the write-ahead log.

    Only the first switch ever needs exclusive access to the file, and SQLite does not wait for
    it, so of two processes that start together one must try again.
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
    """Begin as a writer, so that rows that are read cannot change before they are written."""
    writes = connection.get_execution_options().get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _translated_commit_errors(connection: sa.Connection, file: Path | None) -> Iterator[None]:
    """Distinguish a commit that may have been done from one that was refused.

    The connection is not used again: SQLite leaves a transaction open that could not be
    committed, and the pool would treat it as ended.

    Raises:
        OutcomeUnknown: The commit may have been done.
    """
    try:
        yield
    except (sa.exc.OperationalError, sa.exc.InterfaceError) as error:
        connection.invalidate()
        if isinstance(translate_driver_error(error.orig, file), StorageFull):
            # SQLite raises this before the log has the transaction's last page: it was refused.
            raise
        message = (
            f"The ledger went away while this was written: {error.orig}. It may be done or not: "
            "look before you ask for it again."
        )
        raise OutcomeUnknown(message) from error
