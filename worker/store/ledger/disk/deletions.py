"""Deleting, however full the disk is: at once if there is room for that, else pack by pack.

SQLite writes every page that it overwrites, so deleting a class writes about as much as the
class took in the ledger, and that is nearly all plans of packs. Where even the reserve does not
hold it, packs are deleted a few at a time: the log is used anew after each few, so that the
room that all of it needs is that of the largest few.
"""

from __future__ import annotations

from collections.abc import Callable

import sqlalchemy as sa

from worker.errors import StorageFull
from worker.store.ledger.database import Database
from worker.store.ledger.erasing import remove_few

#: Packs that are deleted at once where there is no room for all.
_PACKS_AT_ONCE = 4
Keys = tuple[str, ...]


def delete(
    database: Database,
    erase: Callable[[sa.Connection], Keys],
    packs: Callable[[sa.Connection], sa.ColumnElement[bool]],
) -> Keys:
    """Delete what `erase` deletes, in one transaction where the disk has room for it.

    Args:
        database: The ledger's.
        erase: Looks whether it may, deletes, and returns keys of files.
        packs: Looks whether it may, and says which packs go; used where there is no room.

    Raises:
        StorageFull: Not even a few packs can be deleted; what was deleted stays deleted.
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
