"""Ready packs whose files are missing, found before somebody wants to print them.

A disk that was restored from a copy, or a folder that somebody cleaned up, leaves packs in state
`ready` without files. Each call checks some hundreds, so that a large disk is not read at once.
"""

from __future__ import annotations

import logging

from worker.store.files import Storage
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)
_CHUNK = 500
#: The files that a pack must have.
_NAMES = ("pack.pdf", "map.png")


class MissingFiles:
    """Checks all ready packs in turn, some of them in each call."""

    def __init__(self, ledger: Ledger, storage: Storage) -> None:
        self._ledger = ledger
        self._storage = storage
        self._checked_id = ""

    def check_some(self) -> int:
        """Check the next packs; returns how many have files missing."""
        made = self._ledger.made_after(self._checked_id, _CHUNK)
        self._checked_id = made[-1][0] if len(made) == _CHUNK else ""
        return sum(note_missing(self._ledger, self._storage, *one) for one in made)


def note_missing(ledger: Ledger, storage: Storage, pack_id: str, files_key: str | None) -> bool:
    """Whether a ready pack's files are missing; if so, the ledger records it as failed.

    Where storage is empty, the folder itself is missing rather than a pack's files; then nothing
    is recorded, so that a disk that is not mounted fails no pack.
    """
    if files_key is None or _has_files(storage, files_key):
        return False
    if next(storage.keys("references"), None) or next(storage.keys("packs"), None):
        if ledger.files_missing(pack_id, files_key):
            _LOG.error("The files of pack %s are gone.", pack_id)
    else:
        _LOG.error("Where files are kept there is nothing: is the disk there?")
    return True


def _has_files(storage: Storage, key: str) -> bool:
    return all(storage.holds(f"{key}/{name}") for name in _NAMES)
