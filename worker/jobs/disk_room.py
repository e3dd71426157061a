"""Room on the disk: without it no pack is begun, and what waits for it says so.

A pack that is begun on a full disk fails, and nothing is wrong with it. So a worker looks
before it claims one; a pack whose making fills the disk goes back into the queue
(`Ledger.wait_for_room`), and everything goes on by itself once there is room.
"""

from __future__ import annotations

import logging

from worker.errors import FolderNotWritable, LedgerUnavailable, StorageFull
from worker.store.files import Storage
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)


def check_room(ledger: Ledger, storage: Storage) -> None:
    """See that there is room to work: for files, and beside it for deleting.

    Raises:
        StorageFull, FolderNotWritable: There is none, or nothing can be written; it says where.
    """
    ledger.keep_reserve()
    storage.check_room()


def has_room(ledger: Ledger, storage: Storage) -> bool:
    """The same as an answer."""
    try:
        check_room(ledger, storage)
    except (StorageFull, FolderNotWritable):
        return False
    return True


def report_room(ledger: Ledger, storage: Storage) -> None:
    """Have packs that wait say whether it is for room, and log when that changes.

    On a disk that is wholly full even that cannot be written; then the log alone tells.
    """
    try:
        check_room(ledger, storage)
    except (StorageFull, FolderNotWritable) as full:
        if _note(ledger, there=False):
            _LOG.error("Packs wait for room on the disk. %s", full)
        return
    if waited := _note(ledger, there=True):
        _LOG.info("There is room again: %d packs that waited for it are made.", waited)


def _note(ledger: Ledger, *, there: bool) -> int:
    """How many packs have something new to say; those that cannot be written count too."""
    try:
        return ledger.note_room(there=there)
    except (StorageFull, LedgerUnavailable):
        return 1
