"""Adds up what the processes of one data folder have counted, those that have ended too.

Were the counts of a process gone with it, the sum would fall, and Prometheus would take that for
a restart and count the rest a second time. So what a process has counted that ended is moved into
one file, `ended.json`. It names the files that are in it, so that none counts twice if this
process is killed between writing it and deleting them. Gauges end with their process.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from worker.store.files.filelock import FileLock, try_lock
from worker.store.files.privacy import make_private_folder
from worker.store.metrics.counts import COUNTS, LOCK, Key, read_records
from worker.store.metrics.families import FAMILIES

_ENDED = "ended.json"
_GAUGES = frozenset(one.name for one in FAMILIES if one.kind == "gauge")
#: How long reading waits for another reader, which takes milliseconds.
_WAIT_S, _LOOK_S = 2.0, 0.005


def read_all(folder: Path) -> dict[Key, list[float]]:
    """The sums over all processes, by series.

    Raises:
        OSError: The folder cannot be made or read.
    """
    make_private_folder(folder)
    with _alone(folder):
        total, merged = _read_ended(folder)
        living: list[dict[Key, list[float]]] = []
        dead: dict[Path, FileLock] = {}
        for path in sorted(folder.glob(f"*{COUNTS}")):
            lock = try_lock(path.with_suffix(LOCK))
            if lock is not None:
                dead[path] = lock
            if path.name not in merged:
                found = read_records(path.read_bytes())
                living.append(found) if lock is None else _add(total, _lasting(found))
        _keep(folder, total, dead)
        for found in living:
            _add(total, found)
        return total


def _keep(folder: Path, total: dict[Key, list[float]], dead: dict[Path, FileLock]) -> None:
    """Write the sums of ended processes, then delete their files."""
    try:
        if dead and _written(folder, total, dead):
            for path in dead:
                path.unlink(missing_ok=True)
                path.with_suffix(LOCK).unlink(missing_ok=True)
    finally:
        for lock in dead.values():
            lock.release()


def _written(folder: Path, total: dict[Key, list[float]], dead: Iterable[Path]) -> bool:
    """Whether the sums could be written; on a full disk the files stay as they are."""
    document = {
        "merged": [path.name for path in dead],
        "series": [[name, labels, numbers] for (name, labels), numbers in total.items()],
    }
    new = folder / f"{_ENDED}.new"
    try:
        new.write_text(json.dumps(document), encoding="utf-8")
        new.replace(folder / _ENDED)
    except OSError:
        return False
    return True


def _read_ended(folder: Path) -> tuple[dict[Key, list[float]], frozenset[str]]:
    """The sums of ended processes, and the names of the files that are in them."""
    try:
        document: Any = json.loads((folder / _ENDED).read_text(encoding="utf-8"))
    except (FileNotFoundError, ValueError):
        # A file that a power cut left empty holds nothing that could be read.
        return {}, frozenset()
    series = {(name, tuple(labels)): numbers for name, labels, numbers in document["series"]}
    return series, frozenset(document["merged"])


def _lasting(found: dict[Key, list[float]]) -> dict[Key, list[float]]:
    return {key: numbers for key, numbers in found.items() if key[0] not in _GAUGES}


def _add(total: dict[Key, list[float]], more: dict[Key, list[float]]) -> None:
    for key, numbers in more.items():
        known = total.get(key)
        # Another version may have had other buckets: what it counted is not comparable.
        if known is None or len(known) != len(numbers):
            total[key] = list(numbers)
        else:
            total[key] = [one + other for one, other in zip(known, numbers, strict=True)]


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let one process at a time add up, since it moves what has ended."""
    until = time.monotonic() + _WAIT_S
    while (lock := try_lock(folder / "reading.lock")) is None and time.monotonic() < until:
        time.sleep(_LOOK_S)
    try:
        yield
    finally:
        if lock is not None:
            lock.release()
