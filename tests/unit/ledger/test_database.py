"""The tables, the transactions, and what several programs do to one ledger at once."""

from __future__ import annotations

import multiprocessing
import threading
import traceback

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy.dialects import postgresql

from tests.unit.ledger.conftest import Asker
from worker.errors import LedgerUnavailable
from worker.ledger import Ledger
from worker.ledger.database import Database
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


@pytest.mark.parametrize("url", ["nonsense", "sqlite://", "oracle+nothing://x/y"])
def test_a_url_that_is_not_understood_is_refused(url: str) -> None:
    with pytest.raises(LedgerUnavailable):
        Ledger.open(url)


def test_a_ledger_without_tables_is_not_ready(url: str) -> None:
    ledger = Ledger.open(url)
    with pytest.raises(LedgerUnavailable):
        ledger.check()
    ledger.close()


def test_an_error_that_is_logged_names_nobody(ledger: Ledger) -> None:
    person = {"id": "stu_1", "name": "Ada Okafor", "virtual_time": 0, "created_at": 0}

    def twice() -> None:
        with ledger._database.writing() as connection:
            for _ in range(2):
                connection.execute(sa.insert(OWNERS).values(**person))

    with pytest.raises(sa.exc.IntegrityError) as caught:
        twice()
    assert "Okafor" not in "".join(traceback.format_exception(caught.value))


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
