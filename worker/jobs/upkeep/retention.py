"""Photos are of people, and are kept for a stated time: when it is over, they are deleted.

The rows go first, with everything that was made from a photo, then the files. What dies
in between leaves files without a row, which are removed as orphans.
"""

from __future__ import annotations

import logging

from worker.jobs.upkeep.removal import remove_each
from worker.store.files import Storage
from worker.store.ledger import Ledger

_LOG = logging.getLogger(__name__)


def delete_expired(ledger: Ledger, storage: Storage) -> int:
    """Delete whatever is kept no longer; returns how many keys of files went."""
    deleted = 0
    while keys := ledger.expire():
        remove_each(storage, keys)
        deleted += len(keys)
    if deleted:
        _LOG.info("Time was over for %d photos and packs: deleted.", deleted)
    return deleted
