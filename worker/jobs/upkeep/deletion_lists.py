"""Lists of deleted ids beside the files (`worker.store.ledger.deleted_ids`).

    deletions/<name>/ids.txt    one id in each line

They are where files are, so that they outlive the ledger's loss and are copied with the files.
"""

from __future__ import annotations

import logging
import secrets

from worker.errors import NotFound
from worker.jobs.upkeep.cleanup import delete_each
from worker.store.files import Storage
from worker.store.ledger import DAY_S, Ledger

_LOG = logging.getLogger(__name__)
_PREFIX, _FILE = "deletions", "ids.txt"
#: How long a list is kept: no copy of the ledger that is older may be put back (our choice).
KEPT_S = 400 * DAY_S


def write_list(ledger: Ledger, storage: Storage) -> int:
    """Write a list of what was deleted since the last; returns how many ids it has."""
    ids = ledger.deleted_ids.unlisted()
    if not ids:
        return 0
    name = secrets.token_hex(16)
    with storage.workspace() as folder:
        (folder / _FILE).write_text("".join(f"{one}\n" for one in ids), encoding="ascii")
        storage.publish(folder, f"{_PREFIX}/{name}")
    ledger.deleted_ids.listed(ids, name)
    return len(ids)


def delete_again(ledger: Ledger, storage: Storage) -> int:
    """Delete what lists name that this ledger does not know; old lists go.

    Returns:
        How many lists were obeyed: 0 but after a copy of the ledger was put back.
    """
    known = ledger.deleted_ids.lists()
    there = {key.rpartition("/")[2] for key in storage.keys(_PREFIX)}
    for name in sorted(there - known):
        ids = _read(storage, name)
        keys = ledger.deleted_ids.delete_again(ids, name)
        delete_each(storage, keys)
        _LOG.warning("The ledger did not know of %d deletions: they were done again.", len(ids))
    old = {name for name in there if storage.age_s(f"{_PREFIX}/{name}") > KEPT_S}
    delete_each(storage, [f"{_PREFIX}/{name}" for name in sorted(old)])
    if gone := (known - there) | old:
        ledger.deleted_ids.forget_lists(gone)
    return len(there - known)


def _read(storage: Storage, name: str) -> list[str]:
    try:
        with storage.file(f"{_PREFIX}/{name}/{_FILE}") as path:
            return path.read_text(encoding="ascii").split()
    except NotFound:
        # It was being written, or removed as old, by another machine.
        return []
