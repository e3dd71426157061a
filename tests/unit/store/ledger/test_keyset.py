"""Pages of lists: no row comes twice and none is left out, whatever happens between them."""

from __future__ import annotations

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.store.ledger import Ledger, PackRow, Page


def page_of(ledger: Ledger, limit: int, after: PackRow | None = None) -> list[PackRow]:
    """The packs of one page, without the one that tells of more."""
    place = None if after is None else (after.created_at, after.id)
    rows = ledger.holdings.packs_of("local", Page(limit=limit, after=place))
    assert len(rows) <= limit + 1
    return list(rows[:limit])


@pytest.fixture
def packs(asker: Asker, clock: Clock) -> list[PackRow]:
    """Twelve packs, newest first; each three were asked for in the same moment."""
    made = []
    for number in range(12):
        clock.now += number % 3 == 0
        made.append(asker.ask())
    return sorted(made, key=lambda row: (-row.created_at, row.id))


@pytest.mark.parametrize("limit", [1, 2, 3, 5, 12, 40])
def test_pages_make_up_the_list(ledger: Ledger, packs: list[PackRow], limit: int) -> None:
    found: list[PackRow] = []
    while page := page_of(ledger, limit, found[-1] if found else None):
        found += page
    assert [row.id for row in found] == [row.id for row in packs]
    # Plans are long, and no list shows them.
    assert {row.plan for row in found} == {None}


def test_rows_that_come_and_go_move_nothing(
    ledger: Ledger, packs: list[PackRow], asker: Asker, clock: Clock
) -> None:
    first = page_of(ledger, 4)
    clock.now += 1
    asker.ask()
    # One that was shown, the last that was shown, and one that comes next.
    for gone in (packs[1], packs[3], packs[5]):
        for _ in range(2):
            ledger.cancel_or_delete(gone.id, "local")
    rest = page_of(ledger, 40, first[-1])
    assert [row.id for row in rest] == [packs[4].id, *(row.id for row in packs[6:])]
