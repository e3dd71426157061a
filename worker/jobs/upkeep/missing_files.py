"""Packs whose files are gone, noticed before somebody wants to print them.

A disk that was put back from a copy, or a folder that somebody tidied, leaves packs `ready`
that have nothing to fetch. Each look takes the next few, so that however many there are, the
disk is not gone through at once.
"""

from __future__ import annotations

import logging

from worker.errors import NotFound
from worker.store.files import Storage
from worker.store.ledger import Ledger, PackRow

_LOG = logging.getLogger(__name__)
_AT_ONCE = 500
#: What a pack must have.
_NAMES = ("pack.pdf", "map.png")


class MissingFiles:
    """Goes round all ready packs, some at each look."""

    def __init__(self, ledger: Ledger, storage: Storage) -> None:
        self._ledger = ledger
        self._storage = storage
        self._seen = ""

    def look(self) -> int:
        """Look at the next packs; returns how many failed for want of their files."""
        rows = self._ledger.ready_after(self._seen, _AT_ONCE)
        self._seen = rows[-1].id if len(rows) == _AT_ONCE else ""
        return sum(note_missing(self._ledger, self._storage, row) for row in rows)


def note_missing(ledger: Ledger, storage: Storage, row: PackRow) -> bool:
    """Whether a ready pack's files are gone; then the ledger says so from now on.

    Where nothing at all is kept, the folder is not there rather than a pack's files: a disk
    that is not mounted must not fail everything.
    """
    if row.files_key is None or _there(storage, row.files_key):
        return False
    if next(storage.keys("references"), None) or next(storage.keys("packs"), None):
        if ledger.files_missing(row.id, row.files_key):
            _LOG.error("The files of pack %s are gone.", row.id)
    else:
        _LOG.error("Where files are kept there is nothing: is the disk there?")
    return True


def _there(storage: Storage, key: str) -> bool:
    try:
        for name in _NAMES:
            with storage.file(f"{key}/{name}"):
                pass
    except NotFound:
        return False
    return True
