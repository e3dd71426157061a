"""Pages of long lists, each from the last row of the one before (keyset pagination).

Rows that are added or deleted meanwhile move nothing, as they would with a count of rows to
leave out: no row comes twice and none is skipped, also where the last row itself is gone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

#: What a row's place in a list is: what the list is ordered by, and the row's id.
Place = tuple[float, str]


@dataclass(frozen=True, kw_only=True)
class Page:
    """A part of a list.

    Attributes:
        limit: How many rows it may have. One more is read, which tells that there are more.
        after: The place of the last row before it; None: it is the first page.
    """

    limit: int
    after: Place | None = None


def in_order(
    rows: sa.Select[Any],
    by: sa.ColumnElement[Any],
    id_: sa.ColumnElement[str],
    page: Page | None,
    *,
    newest_first: bool = False,
) -> sa.Select[Any]:
    """Rows ordered by a column, and by id where that is equal; all of them, or a page.

    Args:
        rows: The statement.
        by: The column; it has a value in every row.
        id_: The column with the rows' ids.
        page: The page; None: all.
        newest_first: Whether the column's greatest value comes first.
    """
    rows = rows.order_by(by.desc() if newest_first else by, id_)
    if page is None:
        return rows
    if page.after is not None:
        value, last = page.after
        beyond = by < value if newest_first else by > value
        rows = rows.where(sa.or_(beyond, sa.and_(by == value, id_ > last)))
        # It follows from the condition before; an index can begin at it.
        rows = rows.where(by <= value if newest_first else by >= value)
    return rows.limit(page.limit + 1)
