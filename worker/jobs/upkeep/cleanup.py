"""Deleting files: what has expired, and what no row of the ledger names.

Rows are deleted first and files after them, so a process that dies between the two leaves files
without a row: orphans, which are found later. A pack's row is written before its files, so files
of an attempt that no row names are orphans at once. A reference's files are published before its
row, so they become orphans only after some time.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from itertools import islice

from worker.store.files import Storage
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
#: How many ids are looked up at once.
_CHUNK = 200
#: A reference has a row by then, if it ever gets one.
REFERENCE_AGE_S = 3600.0


def delete_each(storage: Storage, keys: Iterable[str]) -> int:
    """Delete files one by one, so that one that cannot be deleted does not stop the others.

    That one is logged, and found again as an orphan.

    Returns:
        How many were deleted.
    """
    return sum(_delete(storage, key) for key in keys)


def delete_expired(ledger: Ledger, storage: Storage) -> int:
    """Delete the photos and packs whose retention time is over, and all made from the photos.

    Returns:
        How many storage keys were deleted.
    """
    deleted = 0
    while keys := ledger.expire():
        delete_each(storage, keys)
        deleted += len(keys)
    if deleted:
        _LOG.info("Time was over for %d photos and packs: deleted.", deleted)
    return deleted


def remove_orphans(ledger: Ledger, storage: Storage) -> int:
    """Delete files that no row names; returns how many keys."""
    return _remove_attempts(ledger, storage) + _remove_references(ledger, storage)


def _remove_attempts(ledger: Ledger, storage: Storage) -> int:
    removed = 0
    for keys in _chunks(storage.keys("packs")):
        # Files are listed before rows are read: what appears between the two is not in the list.
        attempts = [attempt for key in keys for attempt in _keys_below(storage, key)]
        live = ledger.live_attempts([_id(key) for key in keys])
        removed += delete_each(storage, [one for one in attempts if one not in live])
    return removed


def _remove_references(ledger: Ledger, storage: Storage) -> int:
    removed = 0
    for keys in _chunks(storage.keys("references")):
        old = [key for key in keys if _age_s(storage, key) > REFERENCE_AGE_S]
        known = ledger.known_references([_id(key) for key in old])
        removed += delete_each(storage, [key for key in old if _id(key) not in known])
    return removed


def _delete(storage: Storage, key: str) -> bool:
    try:
        storage.delete(key)
    except Exception:  # noqa: BLE001 - whatever is wrong with these files, the others must go
        _LOG.exception("%s cannot be deleted now; the rest goes on.", key)
        return False
    return True


def _keys_below(storage: Storage, key: str) -> list[str]:
    """The keys below a key; none where it cannot be read, which is logged."""
    try:
        return list(storage.keys(key))
    except (OSError, ValueError):
        _LOG.exception("%s cannot be looked through; the rest goes on.", key)
        return []


def _age_s(storage: Storage, key: str) -> float:
    """How old a key is, in seconds; 0 where its age cannot be read, so that it is kept."""
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
