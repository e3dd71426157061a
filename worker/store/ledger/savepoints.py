"""Upkeep row by row: what one row refuses is that row's loss and nobody else's."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import sqlalchemy as sa

_LOG = logging.getLogger(__name__)
#: The ledger itself is away, locked or full: then nothing else goes on either.
_ITSELF = (sa.exc.OperationalError, sa.exc.InterfaceError)
Remove = Callable[[sa.Connection, list[str]], tuple[str, ...]]


@contextmanager
def skipping_errors(connection: sa.Connection, told: str) -> Iterator[None]:
    """A part of a transaction: what a row refuses in it is undone and logged, no more.

    Args:
        connection: In a transaction that goes on afterwards.
        told: What the log says could not be done.
    """
    try:
        with connection.begin_nested():
            yield
    except _ITSELF:
        raise
    except sa.exc.DBAPIError:
        _LOG.exception("%s; the rest goes on.", told)


def remove_each(connection: sa.Connection, ids: Sequence[str], remove: Remove) -> tuple[str, ...]:
    """Remove rows at once or, where one of them cannot be, the others one by one.

    Returns:
        Keys of files to delete, as `remove` gives them.
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
