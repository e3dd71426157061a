"""What only SQLite has: its file, its journal, its locks, and the disk that it lies on."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests.unit.store.ledger.conftest import Asker
from worker.errors import FolderNotWritable, LedgerUnavailable, StorageFull
from worker.store.ledger import Ledger
from worker.store.ledger.database.database import BUSY_MS


def test_a_commit_survives_a_power_cut(ledger: Ledger, asker: Asker) -> None:
    asker.ask()
    with ledger._database.writing() as connection:
        # https://sqlite.org/pragma.html#pragma_synchronous: 2 is FULL, and with WAL only
        # FULL syncs the log after each transaction.
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1


def test_a_writer_waits_and_then_says_that_the_ledger_is_locked(
    url: str, ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.store.ledger.database.database.BUSY_MS", 50)
    impatient = Ledger.open(url)
    holder = sqlite3.connect(tmp_path / "folder" / "ledger.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(LedgerUnavailable, match="locked"):
        impatient.free_lapsed()
    holder.execute("ROLLBACK")
    holder.close()
    impatient.free_lapsed()
    impatient.close()
    ledger.check()


def test_a_folder_that_cannot_be_made_is_told_by_name(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FolderNotWritable, match="file"):
        Ledger.open(f"sqlite:///{(tmp_path / 'file' / 'ledger.db').as_posix()}")


def said_under_limit(limit_bytes: int, script: str, url: str, *arguments: str) -> str:
    """What another program prints whose files may not grow beyond so many bytes.

    It has the `ledger` open before the limit holds; complaints stand behind what it prints.
    """
    begin = f"""
        import resource, signal, sys
        from worker.store.ledger import Ledger

        ledger = Ledger.open(sys.argv[1])
        ledger.waiting()
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, ({limit_bytes}, {limit_bytes}))
    """
    program = textwrap.dedent(begin) + textwrap.dedent(script)
    command = [sys.executable, "-c", program, url, *arguments]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    return ended.stdout.strip() + ended.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_what_a_disk_refuses_leaves_the_ledger_whole(
    url: str, ledger: Ledger, asker: Asker
) -> None:
    asker.ask()
    script = """
        from worker.errors import LedgerUnavailable, StorageFull
        from worker.store.ledger import NewPack

        new = NewPack(reference_id=sys.argv[2], spec={"x": "x" * 100_000})
        try:
            ledger.enqueue(new)
        except (StorageFull, LedgerUnavailable) as error:
            print(error.code)
    """
    # A limit on the file's size is an I/O error to SQLite; a full disk it calls full.
    said = said_under_limit(60_000, script, url, asker.reference.id)
    assert said == "ledger-unavailable"
    assert ledger.waiting() == 1


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_what_cannot_be_scrubbed_now_undoes_no_deletion(url: str, asker: Asker) -> None:
    asker.ask()
    script = """
        print(ledger._database.scrub())
        with ledger._database.reading() as connection:
            print(connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one())
    """
    said = said_under_limit(1_000, script, url)
    assert said.startswith(f"False\n{BUSY_MS}")
    assert "still in the ledger's log" in said


def test_a_full_disk_is_told(ledger: Ledger) -> None:
    def fill() -> None:
        with ledger._database.writing() as connection:
            # https://sqlite.org/pragma.html#pragma_max_page_count: beyond it SQLITE_FULL.
            connection.exec_driver_sql("PRAGMA max_page_count=1")
            connection.exec_driver_sql("CREATE TABLE more AS SELECT hex(zeroblob(100000)) AS x")

    with pytest.raises(StorageFull):
        fill()


@pytest.mark.skipif(sys.platform == "win32", reason="locks of POSIX")
def test_another_connection_of_this_process_takes_no_lock_away(
    url: str, ledger: Ledger, asker: Asker
) -> None:
    """Closing any descriptor of a file drops the process's locks on it (fcntl(2)).

    Another program would then take itself for the last, and remove the log under this one.
    """
    with ledger._database.reading():
        Ledger.open(url).waiting()
    script = """
        ledger.close()
    """
    assert said_under_limit(10**9, script, url) == ""
    assert ledger.waiting() == 0
    row = asker.ask()
    assert asker.look(row).id == row.id
    assert Path(f"{ledger._database.file}-wal").stat().st_size
