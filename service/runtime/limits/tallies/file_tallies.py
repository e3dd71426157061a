"""Tallies in a small SQLite file, for the web processes of one machine.

Nothing in it is worth waiting for the disk: a power cut may lose it, and a damaged file is made
anew.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import TypeVar

from service.runtime.limits.tallies.guarded import TalliesUnavailable
from service.runtime.limits.tallies.protocol import Act, Found, Name, Tally, hidden, known
from worker.store.files.privacy import close_to_others, make_private_file, make_private_folder

#: How long one process waits for another.
_BUSY_S = 2.0
#: How often what is over is deleted.
_FORGET_EVERY_S = 60.0
_TABLE = (
    "CREATE TABLE IF NOT EXISTS tallies (name TEXT PRIMARY KEY, amount REAL NOT NULL,"
    " at_s REAL NOT NULL, until_s REAL NOT NULL, keep_s REAL NOT NULL) WITHOUT ROWID"
)
_READ = "SELECT amount, at_s, until_s, keep_s FROM tallies WHERE name = ?"
_WRITE = "INSERT OR REPLACE INTO tallies VALUES (?, ?, ?, ?, ?)"
_FORGET = "DELETE FROM tallies WHERE at_s + keep_s < ?"
_T = TypeVar("_T")


class FileTallies:
    """See `Tallies`.

    Args:
        path: The file; it is made with the first tally.
        clock: Seconds since 1970.
    """

    def __init__(self, path: Path, clock: Callable[[], float] = time.time) -> None:
        self._path = path
        self._clock = clock
        self._lock = Lock()
        self._connection: sqlite3.Connection | None = None
        self._process = 0
        self._forget_at_s = 0.0

    def change(self, names: Sequence[Name], act: Act[_T]) -> _T:
        """See `Tallies`.

        Raises:
            TalliesUnavailable: The file cannot be used now.
        """
        with self._lock:
            try:
                return self._changed(self._open(), names, act)
            except (sqlite3.Error, OSError) as error:
                self._begin_anew(damaged=_damaged(error))
                raise TalliesUnavailable(str(error)) from error

    def close(self) -> None:
        """Close the file."""
        self._begin_anew(damaged=False)

    def _changed(self, file: sqlite3.Connection, names: Sequence[Name], act: Act[_T]) -> _T:
        file.execute("BEGIN IMMEDIATE")
        try:
            now, found = self._clock(), dict[Name, Tally]()
            for name in names:
                tally = _tally(file.execute(_READ, (hidden(name),)).fetchone())
                if tally is not None and known(tally, now):
                    found[name] = tally
            result, changed = act(now, found)
            self._write(file, changed, now)
        except BaseException:
            file.execute("ROLLBACK")
            raise
        file.execute("COMMIT")
        return result

    def _write(self, file: sqlite3.Connection, changed: Found, now: float) -> None:
        for name, one in changed.items():
            row = (hidden(name), one.amount, one.at_s, one.until_s, one.keep_s)
            file.execute(_WRITE, row)
        if changed and now >= self._forget_at_s:
            self._forget_at_s = now + _FORGET_EVERY_S
            file.execute(_FORGET, (now,))

    def _open(self) -> sqlite3.Connection:
        """This process's own connection: a forked child must not use its parent's."""
        if self._connection is None or self._process != os.getpid():
            make_private_folder(self._path.parent)
            make_private_file(self._path)
            for path in self._paths():
                close_to_others(path)
            file = sqlite3.connect(
                self._path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
            )
            file.execute("PRAGMA journal_mode=WAL")
            file.execute("PRAGMA synchronous=OFF")
            file.execute(_TABLE)
            self._connection, self._process = file, os.getpid()
        return self._connection

    def _begin_anew(self, *, damaged: bool) -> None:
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None
        if damaged:
            for path in self._paths():
                path.unlink(missing_ok=True)

    def _paths(self) -> list[Path]:
        """The file, and those that SQLite makes beside it."""
        return [self._path.with_name(self._path.name + end) for end in ("", "-wal", "-shm")]


def _tally(row: tuple[float, float, float, float] | None) -> Tally | None:
    if row is None:
        return None
    return Tally(amount=row[0], at_s=row[1], until_s=row[2], keep_s=row[3])


def _damaged(error: Exception) -> bool:
    """Whether the file is no sound SQLite file; a busy or full one is sound."""
    return type(error) is sqlite3.DatabaseError
