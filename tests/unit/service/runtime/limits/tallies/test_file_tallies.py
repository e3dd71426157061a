"""Tallies of one machine's processes, in a file that may be lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.runtime.limits.tallies.file_tallies import FileTallies
from service.runtime.limits.tallies.guarded import GuardedTallies, TalliesUnavailable
from service.runtime.limits.tallies.protocol import MemoryTallies
from tests.tallies import ONE, add, amount, check_contract


def test_they_are_shared(tmp_path: Path) -> None:
    check_contract(FileTallies(tmp_path / "a.db"), FileTallies(tmp_path / "a.db"))


def test_in_memory_they_are_one_process_own() -> None:
    tallies = MemoryTallies()
    check_contract(tallies, tallies)


def test_what_is_over_is_deleted_and_no_address_can_be_read(tmp_path: Path) -> None:
    now = 1_000.0
    tallies = FileTallies(tmp_path / "a.db", lambda: now)
    add(tallies, ("network", "192.0.2.7"), keep_s=10.0)
    assert tallies._connection is not None
    rows = tallies._connection.execute("SELECT name FROM tallies").fetchall()
    assert len(rows) == 1
    assert "192.0.2.7" not in rows[0][0]
    now += 1_000.0
    add(tallies, ONE)
    rows = tallies._connection.execute("SELECT name FROM tallies").fetchall()
    assert [row[0].startswith("kind:") for row in rows] == [True]
    assert (tmp_path / "a.db").stat().st_mode & 0o777 == 0o600


def test_a_damaged_file_is_made_anew(tmp_path: Path) -> None:
    (tmp_path / "a.db").write_bytes(b"no database" * 1000)
    tallies = FileTallies(tmp_path / "a.db")
    with pytest.raises(TalliesUnavailable):
        add(tallies, ONE)
    assert add(tallies, ONE) == 0.0
    assert amount(FileTallies(tmp_path / "a.db"), ONE) == 1.0


def test_where_they_cannot_be_reached_a_process_counts_alone(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    tallies = GuardedTallies(FileTallies(tmp_path / "file" / "a.db"))
    assert add(tallies, ONE) == 0.0
    assert add(tallies, ONE) == 1.0
