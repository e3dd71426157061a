"""What was deleted is in none of the ledger's files, however long a reader held on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.unit.store.ledger.conftest import Asker
from tests.unit.store.ledger.disk.test_full_disk import Group
from worker.store.ledger import LOCAL_OWNER, Ledger
from worker.store.ledger.disk import scrubbing

NAME = "Student 001"


@pytest.fixture
def folder(url: str, tmp_path: Path) -> Path:
    """Where the ledger's files are; on PostgreSQL nothing is owed."""
    if not url.startswith("sqlite"):
        pytest.skip("PostgreSQL keeps its own files")
    return tmp_path / "folder"


@contextmanager
def reader(folder: Path) -> Iterator[None]:
    """Another program, such as a backup, that reads one state of the ledger."""
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as connection:
        connection.execute("BEGIN")
        connection.execute("SELECT count(*) FROM owners").fetchall()
        yield
        connection.execute("ROLLBACK")


def found(folder: Path, word: str) -> list[str]:
    """The ledger's files that have a word in them."""
    files = (path for path in folder.glob("ledger.db*") if path.is_file())
    return [path.name for path in files if word.encode() in path.read_bytes()]


def test_a_name_goes_once_its_reader_has_let_go(ledger: Ledger, folder: Path) -> None:
    group = Group(ledger, 3, {})
    assert found(folder, NAME)
    with reader(folder):
        ledger.students.delete(group.students[1], group.tutor)
        assert found(folder, NAME)
        assert not ledger.scrub()
    assert ledger.scrub()
    assert found(folder, NAME) == []


def test_it_is_owed_beyond_the_process_that_deleted(ledger: Ledger, folder: Path, url: str) -> None:
    group = Group(ledger, 3, {})
    with reader(folder):
        ledger.students.delete(group.students[1], group.tutor)
        ledger.close()
        other = Ledger.open(url)
        assert not other.scrub()
    assert other.scrub()
    assert found(folder, NAME) == []
    other.close()


def test_what_is_deleted_meanwhile_stays_owed(
    ledger: Ledger, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = Group(ledger, 3, {})
    database = ledger._database
    honest = database._empty_log

    def late(*arguments: int, **named: bool) -> bool:
        done = honest(*arguments, **named)
        monkeypatch.setattr(database, "_empty_log", lambda *_, **__: False)
        ledger.students.delete(group.students[1], group.tutor)
        monkeypatch.setattr(database, "_empty_log", honest)
        return done

    ledger.students.delete(group.students[0], group.tutor)
    with reader(folder):
        ledger.students.delete(group.students[2], group.tutor)
    monkeypatch.setattr(database, "_empty_log", late)
    assert ledger.scrub()
    assert found(folder, NAME)
    assert ledger.scrub()
    assert found(folder, NAME) == []


def test_every_deletion_leaves_nothing_in_the_log(ledger: Ledger, folder: Path) -> None:
    """Photos and packs too, not only people; their random ids wait to be listed as deleted."""
    asker = Asker(ledger)
    row = asker.ask()
    assert found(folder, row.title)
    ledger.cancel_or_delete(row.id, LOCAL_OWNER)
    ledger.cancel_or_delete(row.id, LOCAL_OWNER)
    assert found(folder, row.title) == []
    assert found(folder, asker.reference.sha256)
    ledger.delete_reference(asker.reference.id, LOCAL_OWNER)
    assert found(folder, asker.reference.sha256) == []
    assert set(ledger.deleted_ids.unlisted()) == {row.id, asker.reference.id}


def test_a_ledger_of_before_is_owed_an_emptying(ledger: Ledger, folder: Path) -> None:
    asker = Asker(ledger)
    asker.ask()
    assert (folder / "ledger.db-wal").stat().st_size
    assert ledger.scrub()
    # Only that it is settled is written since.
    assert asker.reference.id.encode() not in (folder / "ledger.db-wal").read_bytes()


def test_writers_do_not_wait_for_a_reader(
    ledger: Ledger, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Emptying keeps writers out while it waits, and upkeep tries it for hours."""
    asked: list[str] = []
    honest = scrubbing._pragma

    def told(connection: sa.PoolProxiedConnection, pragma: str) -> tuple[int, ...]:
        asked.append(pragma)
        return honest(connection, pragma)

    monkeypatch.setattr(scrubbing, "_pragma", told)
    group = Group(ledger, 3, {})
    with reader(folder):
        ledger.students.delete(group.students[1], group.tutor)
        assert not ledger.scrub()
        assert asked
        assert not [pragma for pragma in asked if "TRUNCATE" in pragma]
    assert ledger.scrub()
    assert [pragma for pragma in asked if "TRUNCATE" in pragma]
