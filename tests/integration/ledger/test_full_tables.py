"""A ledger on PostgreSQL in use: it is moved forward, copied with PostgreSQL's tools, put back."""

from __future__ import annotations

import subprocess
import threading
import time
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic import command

from tests.servers.postgresql import program
from tests.waiting import HANG_S, wait_until
from worker.errors import LedgerUnavailable
from worker.jobs.upkeep.deletion_lists import delete_again, write_list
from worker.store.files import FolderStorage
from worker.store.ledger import Ledger, NewPack, ReferenceRow
from worker.store.ledger.database.database import Database
from worker.store.ledger.migrations.migrate import alembic_config, migrate

_INDEXES = """SELECT relname, indisvalid FROM pg_index JOIN pg_class ON oid = indexrelid
              WHERE indrelid = 'packs'::regclass"""
_BUILT = "SELECT 1 FROM pg_stat_activity WHERE query LIKE 'CREATE INDEX CONCURRENTLY%'"


@pytest.fixture
def url(postgresql: Any) -> str:
    return str(postgresql.new_database())


def plain(url: str) -> str:
    """As PostgreSQL's own programs write it."""
    return url.replace("+psycopg", "")


def at_step(url: str, step: str) -> None:
    database = Database(url)
    config = alembic_config()
    with database.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, step)
    database.close()


def moved(url: str, failures: list[Exception]) -> None:
    database = Database(url)
    try:
        migrate(database)
    except Exception as error:  # noqa: BLE001 - told to the test
        failures.append(error)
    finally:
        database.close()


def test_indexes_are_made_while_others_write(url: str) -> None:
    """By one of three processes that start; an index that an earlier start left half is redone."""
    at_step(url, "0011")
    with psycopg.connect(plain(url), autocommit=True) as other:
        other.execute("CREATE INDEX ix_packs_number ON packs (number)")
        other.execute(
            "UPDATE pg_index SET indisvalid = false WHERE indexrelid = 'ix_packs_number'::regclass"
        )
        failures: list[Exception] = []
        starts = [threading.Thread(target=moved, args=(url, failures)) for _ in range(3)]
        with psycopg.connect(plain(url)) as old:
            # Making an index waits for this transaction; nobody may wait for the index.
            old.execute("UPDATE packs SET title = ''")
            for one in starts:
                one.start()
            wait_until(lambda: other.execute(_BUILT).fetchone())
            other.execute("SET lock_timeout = '5s'")
            other.execute("UPDATE owners SET name = 'Here' WHERE id = 'local'")
            other.execute("DELETE FROM packs")
        for one in starts:
            one.join(HANG_S)
        assert failures == []
        found = dict(other.execute(_INDEXES).fetchall())
    assert set(found.values()) == {True}
    assert {"ix_packs_queue", "ix_packs_number", "ix_packs_state_finished_at"} <= set(found)
    assert "ix_packs_owner_id" not in found


def test_machines_whose_clocks_differ_agree_on_what_is_over(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clock that is a day ahead neither deletes what has time left nor ends a key."""
    ledger, other = Ledger.open(url), Ledger.open(url)
    ledger.migrate()
    tutor, issued = ledger.people.add_tutor("Ada")
    sign_in = ledger.people.sign_in(issued.access.id)
    photo = ledger.add_reference(a_photo(tutor.id, ledger.time() + 3600))
    honest = time.time
    with monkeypatch.context() as patch:
        patch.setattr(time, "time", lambda: honest() + 40 * 24 * 3600)
        assert abs(other.time() - honest()) < HANG_S
        assert other.expire() == ()
        other.forget_expired_keys()
        assert other.people.opened_by(sign_in.key) is not None
        late = other.add_reference(a_photo(tutor.id, None))
    assert abs(late.created_at - photo.created_at) < HANG_S
    ledger.close()
    other.close()


def test_who_finds_no_connection_free_is_told(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("worker.store.ledger.database.database._CONNECTION_WAIT_S", 0.05)
    database = Database(url, connections=1)
    with (
        database.reading(),
        pytest.raises(LedgerUnavailable, match="in use"),
        database.reading(),
    ):
        pass
    database.close()


def test_a_dump_is_put_back_and_what_was_deleted_since_goes_again(
    postgresql: Any, url: str, tmp_path: Path
) -> None:
    storage = FolderStorage(tmp_path / "files")
    ledger = Ledger.open(url)
    ledger.migrate()
    photo = ledger.add_reference(a_photo("local", None))
    before, after, kept = (
        ledger.enqueue(NewPack(reference_id=photo.id, spec={})).id for _ in range(3)
    )
    end(ledger, before)
    write_list(ledger, storage)
    half = ledger.claim("w/1")
    assert half is not None
    dump = tmp_path / "ledger.dump"
    subprocess.run([program("pg_dump"), "-Fc", "-f", dump, plain(url)], check=True)
    gone, left = (kept, after) if half.pack.id == after else (after, kept)
    end(ledger, gone)
    write_list(ledger, storage)
    ledger.close()
    anew = postgresql.new_database()
    subprocess.run([program("pg_restore"), "-d", plain(anew), dump], check=True)
    ledger = Ledger.open(anew)
    ledger.migrate()
    assert {row.id for row in ledger.holdings.of_person("local").packs} == {gone, left}
    assert delete_again(ledger, storage) == 1
    assert [row.id for row in ledger.holdings.of_person("local").packs] == [left]
    assert ledger.free_held_by({"w/1"}).requeued == (left,)
    ledger.close()


def end(ledger: Ledger, pack_id: str) -> None:
    """Cancel a pack, and delete it."""
    for _ in range(2):
        ledger.cancel_or_delete(pack_id, "local")


def a_photo(owner_id: str, delete_after: float | None) -> ReferenceRow:
    return ReferenceRow(
        owner_id=owner_id,
        width_px=4,
        height_px=3,
        format="jpeg",
        sha256="0" * 64,
        delete_after=delete_after,
    )
