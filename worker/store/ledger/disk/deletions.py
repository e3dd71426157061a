"""Deleting on a full disk: in one transaction if there is room for it, else pack by pack.

SQLite writes every page that it overwrites, so deleting a class writes about as much as the
class took in the ledger, and most of that is plans of packs. Where even the reserve is too small
for it, a few packs are deleted at a time: the log is reused after each transaction, so that only
the largest of these must fit.
"""

from __future__ import annotations

from collections.abc import Callable

import sqlalchemy as sa

from worker.errors import StorageFull
from worker.store.ledger.database.database import Database
from worker.store.ledger.erasing import remove_few

#: Packs that are deleted in one transaction where there is no room for all.
_PACKS_AT_ONCE = 4
Keys = tuple[str, ...]


def delete(
    database: Database,
    erase: Callable[[sa.Connection], Keys],
    packs: Callable[[sa.Connection], sa.ColumnElement[bool]],
) -> Keys:
    """Run `erase`, in one transaction where the disk has room for it.

    Args:
        database: The ledger's.
        erase: Checks that the caller may delete, deletes, and returns storage keys.
        packs: Checks the same, and returns the condition of the packs that will be deleted;
            called only where there is no room for one transaction.

    Returns:
        Keys of the files to delete.

    Raises:
        StorageFull: Not even a few packs can be deleted; earlier ones stay deleted.
    """
    try:
        return database.delete_with_reserve(erase)
    except StorageFull:
        keys: Keys = ()
    while few := database.delete_with_reserve(lambda connection: _delete_few(connection, packs)):
        keys += few
    return keys + database.delete_with_reserve(erase)


def _delete_few(
    connection: sa.Connection, packs: Callable[[sa.Connection], sa.ColumnElement[bool]]
) -> Keys:
    return remove_few(connection, packs(connection), _PACKS_AT_ONCE)
