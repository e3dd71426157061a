"""Savepoints: an error with one row is undone and logged, and the other rows go on."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import sqlalchemy as sa

_LOG = logging.getLogger(__name__)
#: The ledger itself cannot be reached, is locked or full: these errors are raised.
_WHOLE_LEDGER = (sa.exc.OperationalError, sa.exc.InterfaceError)
Remove = Callable[[sa.Connection, list[str]], tuple[str, ...]]


@contextmanager
def skipping_errors(connection: sa.Connection, failure: str) -> Iterator[None]:
    """Run a part of a transaction in a savepoint; an error in it is undone and logged.

    Args:
        connection: In a transaction, which goes on afterwards.
        failure: What the log says could not be done.
    """
    try:
        with connection.begin_nested():
            yield
    except _WHOLE_LEDGER:
        raise
    except sa.exc.DBAPIError:
        _LOG.exception("%s; the rest goes on.", failure)


def remove_each(connection: sa.Connection, ids: Sequence[str], remove: Remove) -> tuple[str, ...]:
    """Remove rows together; if one of them cannot be removed, remove the others one by one.

    Returns:
        Keys of files to delete, as `remove` returns them.
    """
    keys: list[str] = []
    left = ids
    if left:
        with skipping_errors(connection, "Some rows cannot be deleted together"):
            keys += remove(connection, list(ids))
            left = ()
    for one in left:
        with skipping_errors(connection, f"{one} cannot be deleted"):
            keys += remove(connection, [one])
    return tuple(keys)
