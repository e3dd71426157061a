"""The tables, the transactions, and what several programs do to one ledger at once."""

from __future__ import annotations

import multiprocessing
import sqlite3
import subprocess
import sys
import textwrap
import threading
import traceback
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy.dialects import postgresql

from tests.unit.ledger.conftest import Asker
from worker.errors import FolderNotWritable, LedgerUnavailable, StorageFull
from worker.ledger import Ledger
from worker.ledger.database import BUSY_MS, Database
from worker.ledger.migrate import migrate
from worker.ledger.tables import METADATA, OWNERS


def test_the_steps_lead_to_the_tables_that_the_code_knows(url: str) -> None:
    database = Database(url)
    migrate(database)
    with database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
    database.close()


def test_migrating_again_changes_nothing(ledger: Ledger, asker: Asker) -> None:
    asker.ask()
    ledger.migrate()
    assert ledger.waiting() == 1


def test_a_ledger_of_a_newer_version_is_refused(ledger: Ledger) -> None:
    with ledger._database.writing() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(LedgerUnavailable, match="9999"):
        ledger.migrate()


def _start(url: str, barrier: threading.Barrier) -> None:
    barrier.wait()
    ledger = Ledger.open(url)
    ledger.migrate()
    ledger.close()


def test_four_processes_may_start_at_once(url: str) -> None:
    spawn = multiprocessing.get_context("spawn")
    barrier = spawn.Barrier(4)
    processes = [spawn.Process(target=_start, args=(url, barrier)) for _ in range(4)]
    for process in processes:
        process.start()
    for process in processes:
        process.join(30)
    assert [process.exitcode for process in processes] == [0] * 4


def test_a_commit_survives_a_power_cut(ledger: Ledger, asker: Asker) -> None:
    asker.ask()
    with ledger._database.writing() as connection:
        # https://sqlite.org/pragma.html#pragma_synchronous: 2 is FULL, and with WAL only
        # FULL syncs the log after each transaction.
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1


def test_no_pack_is_claimed_twice_and_no_update_lost(url: str, ledger: Ledger) -> None:
    asker = Asker(ledger)
    asked = [asker.ask().id for _ in range(60)]
    claimed: list[str] = []

    def work(name: str) -> None:
        own = Ledger.open(url)
        while claim := own.claim(name):
            claimed.append(claim.pack.id)
        own.close()

    threads = [threading.Thread(target=work, args=(f"w/{n}",)) for n in range(4)]
    asking = threading.Thread(target=lambda: asked.extend(asker.ask().id for _ in range(20)))
    for thread in (*threads, asking):
        thread.start()
    for thread in (*threads, asking):
        thread.join()
    work("last")
    assert sorted(claimed) == sorted(asked)
    places = [asker.ask().virtual_time for _ in range(2)]
    assert places[1] == places[0] + 1


def test_a_writer_waits_and_then_says_that_the_ledger_is_locked(
    url: str, ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.ledger.database.BUSY_MS", 50)
    impatient = Ledger.open(url)
    holder = sqlite3.connect(tmp_path / "folder" / "ledger.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(LedgerUnavailable, match="locked"):
        impatient.sweep()
    holder.execute("ROLLBACK")
    holder.close()
    impatient.sweep()
    impatient.close()
    ledger.check()


def test_a_folder_that_cannot_be_made_is_told_by_name(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FolderNotWritable, match="file"):
        Ledger.open(f"sqlite:///{(tmp_path / 'file' / 'ledger.db').as_posix()}")


@pytest.mark.parametrize("url", ["nonsense", "sqlite://", "oracle+nothing://x/y"])
def test_a_url_that_is_not_understood_is_refused(url: str) -> None:
    with pytest.raises(LedgerUnavailable):
        Ledger.open(url)


def test_a_ledger_without_tables_is_not_ready(url: str) -> None:
    ledger = Ledger.open(url)
    with pytest.raises(LedgerUnavailable):
        ledger.check()
    ledger.close()


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_what_a_disk_refuses_leaves_the_ledger_whole(
    url: str, ledger: Ledger, asker: Asker
) -> None:
    asker.ask()
    script = """
        import resource, signal, sys
        from worker.errors import LedgerUnavailable, StorageFull
        from worker.ledger import Ledger, NewPack

        ledger = Ledger.open(sys.argv[1])
        ledger.waiting()
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
        new = NewPack(reference_id=sys.argv[2], spec={"x": "x" * 100_000})
        try:
            ledger.enqueue(new)
        except (StorageFull, LedgerUnavailable) as error:
            print(error.code)
    """
    command = [sys.executable, "-c", textwrap.dedent(script), url, asker.reference.id]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    # A limit on the file's size is an I/O error to SQLite; a full disk it calls full.
    assert (ended.stdout.strip(), ended.stderr) == ("ledger-unavailable", "")
    assert ledger.waiting() == 1


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_what_cannot_be_scrubbed_now_undoes_no_deletion(url: str, asker: Asker) -> None:
    asker.ask()
    script = """
        import resource, signal, sys
        from worker.ledger import Ledger

        ledger = Ledger.open(sys.argv[1])
        ledger.waiting()
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000, 1_000))
        ledger._database.scrub()
        with ledger._database.reading() as connection:
            print(connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one())
    """
    command = [sys.executable, "-c", textwrap.dedent(script), url]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (ended.stdout.strip(), ended.stderr) == (str(BUSY_MS), "")


def test_an_error_that_is_logged_names_nobody(ledger: Ledger) -> None:
    person = {"id": "stu_1", "name": "Ada Okafor", "virtual_time": 0, "created_at": 0}

    def twice() -> None:
        with ledger._database.writing() as connection:
            for _ in range(2):
                connection.execute(sa.insert(OWNERS).values(**person))

    with pytest.raises(sa.exc.IntegrityError) as caught:
        twice()
    assert "Okafor" not in "".join(traceback.format_exception(caught.value))


def test_a_full_disk_is_told(ledger: Ledger) -> None:
    def fill() -> None:
        with ledger._database.writing() as connection:
            # https://sqlite.org/pragma.html#pragma_max_page_count: beyond it SQLITE_FULL.
            connection.exec_driver_sql("PRAGMA max_page_count=1")
            connection.exec_driver_sql("CREATE TABLE more AS SELECT hex(zeroblob(100000)) AS x")

    with pytest.raises(StorageFull):
        fill()


def test_on_postgresql_a_claim_skips_what_others_lock() -> None:
    from worker.ledger import claims  # noqa: PLC0415 - only its statement is of interest

    seen: list[str] = []

    class Recorder:
        def execute(self, statement: sa.Executable) -> Recorder:
            compiled = statement.compile(dialect=postgresql.dialect())  # type: ignore[attr-defined]
            seen.append(" ".join(str(compiled).split()))
            return self

        def one_or_none(self) -> None:
            return None

    claims.claim(Recorder(), "w/1", 0.0, 30.0)  # type: ignore[arg-type]
    (statement,) = seen
    assert statement.startswith("UPDATE packs SET")
    assert "ORDER BY packs.virtual_time, packs.created_at, packs.id LIMIT" in statement
    assert "FOR UPDATE SKIP LOCKED)" in statement
    assert " RETURNING packs.id" in statement


def test_a_watching_connection_that_broke_is_given_up_and_another_taken(ledger: Ledger) -> None:
    ledger.data_version()
    ledger._database._watching.driver_connection.close()
    with pytest.raises(LedgerUnavailable):
        ledger.data_version()
    assert ledger.data_version() == ledger.data_version()
