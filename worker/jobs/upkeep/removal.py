"""Deleting files that belong to nothing, one by one: none of them keeps the others."""

from __future__ import annotations

import logging
from collections.abc import Iterable

from worker.store.files import Storage

_LOG = logging.getLogger(__name__)


def remove_each(storage: Storage, keys: Iterable[str]) -> int:
    """Delete all of these; what cannot be deleted is logged, and found again as an orphan.

    Returns:
        How many were deleted.
    """
    return sum(_remove(storage, key) for key in keys)


def _remove(storage: Storage, key: str) -> bool:
    try:
        storage.delete(key)
    except Exception:  # noqa: BLE001 - whatever is wrong with these files, the others must go
        _LOG.exception("%s cannot be deleted now; the rest goes on.", key)
        return False
    return True
