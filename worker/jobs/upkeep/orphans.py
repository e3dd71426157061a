"""Files that belong to nothing: the other half of "whatever dies".

A pack's row is there before its files, so an attempt that no row knows is nobody's. A
reference's files are there before its row: those are given time.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from itertools import islice

from worker.jobs.upkeep.removal import remove_each
from worker.store.files import Storage
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
#: Rows that are looked up at once.
_CHUNK = 200
#: Whatever took in a reference has written its row by then.
REFERENCE_AGE_S = 3600.0


def remove_orphans(ledger: Ledger, storage: Storage) -> int:
    """Remove all of them; returns how many keys."""
    return _attempts(ledger, storage) + _references(ledger, storage)


def _attempts(ledger: Ledger, storage: Storage) -> int:
    removed = 0
    for keys in _chunks(storage.keys("packs")):
        # Files are listed before rows are read: what appears between the two is not seen.
        attempts = [attempt for key in keys for attempt in _below(storage, key)]
        live = ledger.live_attempts([_id(key) for key in keys])
        dead = [attempt for attempt in attempts if attempt not in live]
        removed += remove_each(storage, dead)
    return removed


def _references(ledger: Ledger, storage: Storage) -> int:
    removed = 0
    for keys in _chunks(storage.keys("references")):
        old = [key for key in keys if _age_s(storage, key) > REFERENCE_AGE_S]
        known = ledger.known_references([_id(key) for key in old])
        removed += remove_each(storage, [key for key in old if _id(key) not in known])
    return removed


def _below(storage: Storage, key: str) -> list[str]:
    """What lies below a key; nothing where that cannot be read, which keeps no other."""
    try:
        return list(storage.keys(key))
    except (OSError, ValueError):
        _LOG.exception("%s cannot be looked through; the rest goes on.", key)
        return []


def _age_s(storage: Storage, key: str) -> float:
    """How old a key is; new where that cannot be told, so that it is left alone."""
    try:
        return storage.age_s(key)
    except (OSError, ValueError):
        _LOG.exception("%s cannot be looked at; the rest goes on.", key)
        return 0.0


def _id(key: str) -> str:
    return key.rpartition("/")[2]


def _chunks(keys: Iterable[str]) -> Iterator[list[str]]:
    """Lists of at most `_CHUNK` keys."""
    left = iter(keys)
    while chunk := list(islice(left, _CHUNK)):
        yield chunk
