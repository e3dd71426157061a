"""A ledger with a clock that the test turns."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.clock import Clock
from tests.migrated import migrated
from worker.store.ledger import Ledger, NewPack, PackRow, ReferenceRow


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.config.getoption("--ledger") == "postgresql":
        return str(request.getfixturevalue("postgresql").new_database())
    return f"sqlite:///{(tmp_path / 'folder' / 'ledger.db').as_posix()}"


@pytest.fixture
def ledger(url: str, clock: Clock) -> Iterator[Ledger]:
    opened = Ledger.open(url, clock=clock, lease_s=30, attempts=3)
    yield migrated(opened)
    opened.close()


class Asker:
    """Asks for packs of one reference, for one owner."""

    def __init__(self, ledger: Ledger, owner_id: str = "local") -> None:
        self.ledger = ledger
        self.owner_id = owner_id
        row = ReferenceRow(
            owner_id=owner_id, width_px=400, height_px=300, format="jpeg", sha256="0" * 64
        )
        self.reference = ledger.add_reference(row)

    def ask(self, cost_s: float = 1.0) -> PackRow:
        """One more pack."""
        new = NewPack(
            owner_id=self.owner_id,
            reference_id=self.reference.id,
            title="Stillleben № 3",
            spec={"support": {"width_mm": 600, "height_mm": 400}},
            plan={"sheet_count": 6, "a_third_mm": 1 / 3},
            cost_s=cost_s,
        )
        return self.ledger.enqueue(new)

    def look(self, row: PackRow) -> PackRow:
        """The pack as it is now."""
        return self.ledger.pack(row.id, self.owner_id)


@pytest.fixture
def asker(ledger: Ledger) -> Asker:
    return Asker(ledger)
