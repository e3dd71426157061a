"""What one process counts, in a file of its own, so that it is not lost with the process.

Each change writes its few numbers to the file at once: a process that is killed has lost nothing,
since the system keeps what was written. prometheus-client's own mode for several processes maps
its files into memory instead; on a full disk such a write kills the process (SIGBUS), where this
one fails, is logged once, and is made good with the next.

A series is a record: the lengths of its name and of its numbers, the name as JSON, padded to
eight bytes, then the numbers as doubles. A histogram has the count of each bucket and their sum.
"""

from __future__ import annotations

import json
import logging
import os
import secrets
import struct
import threading
import time
from bisect import bisect_left
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from worker.store.files.filelock import FileLock, try_lock
from worker.store.files.privacy import close_all_to_others, make_private_folder
from worker.store.metrics.families import Family

if TYPE_CHECKING:
    from collections.abc import Iterator

_LOG = logging.getLogger(__name__)
#: The name of a family, and the values of its labels.
Key = tuple[str, tuple[str, ...]]
HEAD = struct.Struct("=II")
NUMBER_BYTES = 8
COUNTS, LOCK = ".counts", ".lock"


@dataclass
class _Series:
    """Numbers of one series; `place` is where they are in the file, None: not there yet."""

    numbers: list[float]
    place: int | None = None


class Counts:
    """The counts of this process; safe to use from several threads, and after a fork.

    Args:
        folder: Where the processes of this machine keep theirs, for `shared`; None: this
            process's counts are kept in memory alone.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._descriptor: int | None = None
        self._held: FileLock | None = None
        self._begin()

    def add(self, family: Family, *labels: str, by: float = 1.0) -> None:
        """Add to a counter or a gauge."""
        self._change(family, labels, 0, by)

    def observe(self, family: Family, *labels: str, seconds: float) -> None:
        """Put a time into a histogram."""
        self._change(family, labels, bisect_left(family.bounds, seconds), 1.0, seconds)

    @contextmanager
    def timed(self, family: Family, *labels: str) -> Iterator[None]:
        """Put the time that the block takes into a histogram; not where it fails."""
        began_s = time.perf_counter()
        yield
        self.observe(family, *labels, seconds=time.perf_counter() - began_s)

    @contextmanager
    def held(self, family: Family, *labels: str) -> Iterator[None]:
        """Count one more in a gauge while the block runs."""
        self.add(family, *labels)
        try:
            yield
        finally:
            self.add(family, *labels, by=-1.0)

    def numbers(self) -> dict[Key, list[float]]:
        """What this process has counted, by series."""
        with self._lock:
            return {key: list(one.numbers) for key, one in self._series.items()}

    def close(self) -> None:
        """Write no more; what was counted stays in the file, and is added up by others."""
        self._folder = None
        self._let_go()

    def _begin(self) -> None:
        """Begin anew, as a forked child does: what its parent counted is the parent's."""
        self._process = os.getpid()
        self._lock = threading.Lock()
        self._series: dict[Key, _Series] = {}
        self._told = False
        self._name, self._end = secrets.token_hex(12), 0
        self._let_go()

    def _let_go(self) -> None:
        """Close file and lock; the parent of a fork goes on to hold its own."""
        if self._descriptor is not None:
            os.close(self._descriptor)
        if self._held is not None:
            self._held.release()
        self._descriptor = self._held = None

    def _change(
        self, family: Family, labels: tuple[str, ...], which: int, by: float, more: float = 0.0
    ) -> None:
        if os.getpid() != self._process:
            self._begin()
        with self._lock:
            series = self._series.get((family.name, labels))
            if series is None:
                count = len(family.bounds) + 2 if family.bounds else 1
                series = self._series[family.name, labels] = _Series([0.0] * count)
            series.numbers[which] += by
            if family.bounds:
                series.numbers[-1] += more
            if self._folder is not None:
                self._write(self._folder, (family.name, labels), series)

    def _write(self, folder: Path, key: Key, series: _Series) -> None:
        try:
            if self._descriptor is None:
                self._open(folder)
            self._put(key, series)
        except OSError as error:
            if not self._told:
                self._told = True
                _LOG.warning("What is counted for metrics cannot be written now: %s", error)

    def _open(self, folder: Path) -> None:
        """Make this process's file, locked as long as the process lives."""
        make_private_folder(folder)
        close_all_to_others(folder)
        # The lock comes first: a file without one is taken for that of an ended process.
        self._held = self._held or try_lock(folder / f"{self._name}{LOCK}")
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0)
        self._descriptor = os.open(folder / f"{self._name}{COUNTS}", flags, 0o600)

    def _put(self, key: Key, series: _Series) -> None:
        assert self._descriptor is not None  # noqa: S101 - `_write` has opened it.
        packed = struct.pack(f"={len(series.numbers)}d", *series.numbers)
        if series.place is not None:
            _write_at(self._descriptor, packed, series.place)
            return
        head = record_head(key, len(series.numbers))
        if _write_at(self._descriptor, head + packed, self._end) == len(head) + len(packed):
            series.place = self._end + len(head)
            self._end += len(head) + len(packed)


def _write_at(descriptor: int, content: bytes, place: int) -> int:
    """Write at a place of a file; returns how many bytes. Windows has no one call for it."""
    if hasattr(os, "pwrite"):
        return os.pwrite(descriptor, content, place)
    os.lseek(descriptor, place, os.SEEK_SET)
    return os.write(descriptor, content)


def folder_bytes(folder: Path) -> float:
    """How many bytes the files of a folder have, before they are put into storage."""
    return float(sum(one.stat().st_size for one in folder.iterdir() if one.is_file()))


def record_head(key: Key, count: int) -> bytes:
    """What stands before the numbers of a series."""
    name = json.dumps([key[0], list(key[1])]).encode()
    name += b" " * (-len(name) % NUMBER_BYTES)
    return HEAD.pack(len(name), count) + name


def read_records(content: bytes) -> dict[Key, list[float]]:
    """The series of a file; a record that was not written to its end is left out."""
    found: dict[Key, list[float]] = {}
    place = 0
    while place + HEAD.size <= len(content):
        length, count = HEAD.unpack_from(content, place)
        numbers_at = place + HEAD.size + length
        place = numbers_at + NUMBER_BYTES * count
        if not length or place > len(content):
            break
        name, labels = json.loads(content[numbers_at - length : numbers_at])
        found[name, tuple(labels)] = list(struct.unpack_from(f"={count}d", content, numbers_at))
    return found
