"""Whether the disk has room: for files, and for what the ledger writes when it deletes.

A pack that is begun on a full disk fails although nothing is wrong with it. So a worker checks
this before it claims one. A pack that fills the disk while it is made goes back into the queue
(`Ledger.wait_for_room`), and is begun again once there is room.
"""

from __future__ import annotations

from worker.errors import FolderNotWritable, StorageFull, StorageUnavailable
from worker.store.files import Storage
from worker.store.ledger import Ledger


def check_room(ledger: Ledger, storage: Storage) -> None:
    """Check that there is room for new files and for the ledger's reserve.

    Raises:
        StorageFull: There is none.
        FolderNotWritable: Nothing can be written there.
        StorageUnavailable: The storage cannot be reached.
    """
    ledger.fill_reserve()
    storage.check_room()


def has_room(ledger: Ledger, storage: Storage) -> bool:
    """Whether `check_room` passes."""
    try:
        check_room(ledger, storage)
    except (StorageFull, FolderNotWritable, StorageUnavailable):
        return False
    return True


def check_not_empty(storage: Storage) -> None:
    """Check that anything is kept at all; asked only where a file is missing.

    The folder of a disk that is not mounted is there, and empty. Then no photo and no pack is
    lost, and nobody must be told so.

    Raises:
        StorageUnavailable: Nothing is kept.
    """
    if not any(next(storage.keys(kind), None) for kind in ("references", "packs")):
        message = (
            "Where files are kept there is nothing: the disk may not be mounted. Try again "
            "later, or tell whoever runs the service."
        )
        raise StorageUnavailable(message)
