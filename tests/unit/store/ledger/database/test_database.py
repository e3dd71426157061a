"""The tables, the transactions, and what several programs do to one ledger at once."""

from __future__ import annotations

import multiprocessing
import threading
import time
import traceback
from contextlib import closing
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy.dialects import postgresql

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.errors import LedgerUnavailable, OutcomeUnknown, StorageFull
from worker.store.ledger import DEFAULT_SCOPES, Ledger, new_id
from worker.store.ledger.database.database import Database
from worker.store.ledger.migrations.migrate import alembic_config, migrate
from worker.store.ledger.sites.records import SITE_S
from worker.store.ledger.stored_answers import forget_answers
from worker.store.ledger.tables import IDEMPOTENCY_KEYS, METADATA, OWNERS

_ALL_OF_IT = {"compare_type": True, "compare_server_default": True}


def test_the_steps_lead_to_the_tables_that_the_code_knows(url: str) -> None:
    database = Database(url)
    migrate(database)
    with database.reading() as connection:
        context = MigrationContext.configure(connection, opts=_ALL_OF_IT)
        assert compare_metadata(context, METADATA) == []
    database.close()


def test_migrating_again_changes_nothing(ledger: Ledger, asker: Asker) -> None:
    asker.ask()
    ledger.migrate()
    assert ledger.waiting() == 1


def test_answers_kept_before_they_were_indexed_go_with_what_they_name(url: str) -> None:
    database = Database(url)
    gone, other = new_id("pck_"), new_id("pck_")
    with database.writing() as connection:
        config = alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, "0003")
        for key, body in (("gone", f'{{"id": "{gone}"}}'), ("other", other), ("held", None)):
            values = {"key": key, "status": 202 if body else None, "body": body}
            values |= {"owner_id": "local", "fingerprint": "f", "token": key, "until": 9e9}
            connection.execute(sa.insert(IDEMPOTENCY_KEYS).values(**values))
    migrate(database)
    with database.writing() as connection:
        forget_answers(connection, [gone])
        assert set(connection.execute(sa.select(IDEMPOTENCY_KEYS.c.key)).scalars()) == {
            "other",
            "held",
        }
    database.close()


def test_a_site_of_before_gets_the_limits_of_a_new_one(url: str) -> None:
    """It had all its tutor's rights, and no end."""
    database = Database(url)
    config = alembic_config()
    person = "insert into owners (id, name, virtual_time, created_at, role, tutor_id) values"
    with database.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0006")
        connection.exec_driver_sql(f"{person} ('tut_a', 'Ada', 0, 1, 'tutor', null)")
        connection.exec_driver_sql(f"{person} ('sit_a', 'Pages', 0, 2, 'site', 'tut_a')")
        connection.exec_driver_sql(
            "insert into classes (id, tutor_id, name, join_code, joining_open, settings,"
            " created_at) values ('cls_a', 'tut_a', 'Noon', 'AB12CD34', false, '{}', 3)"
        )
    database.close()
    with closing(Ledger.open(url)) as ledger:
        before = time.time()
        ledger.migrate()
        after = time.time()
        (site,) = ledger.sites.of_tutor("tut_a")
        assert (site.id, site.name, site.class_ids) == ("sit_a", "Pages", ("cls_a",))
        assert (site.scopes, site.origins) == (DEFAULT_SCOPES, ())
        assert before + SITE_S <= site.expires_at <= after + SITE_S
        assert [one.id for one in ledger.classes.of_tutor("sit_a")] == ["cls_a"]


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


def test_web_and_worker_may_start_at_once(url: str) -> None:
    spawn = multiprocessing.get_context("spawn")
    barrier = spawn.Barrier(2)
    processes = [spawn.Process(target=_start, args=(url, barrier)) for _ in range(2)]
    for process in processes:
        process.start()
    for process in processes:
        # Only a lock that nobody gives back takes so long, on the busiest machine.
        process.join(300)
    assert [process.exitcode for process in processes] == [0] * 2


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
    from worker.store.ledger.packs import claims  # noqa: PLC0415 - only its statement is of interest

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


def test_a_row_that_cannot_be_deleted_keeps_no_other(
    ledger: Ledger, asker: Asker, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    """What holds it here is a table of nobody's; a fault of ours would look the same."""
    late = [replace(asker.reference, id=new_id("ref_"), delete_after=clock.now) for _ in range(3)]
    for row in late:
        ledger.add_reference(row)
    with ledger._database.writing() as connection:
        connection.exec_driver_sql(
            "CREATE TABLE clings (photo_id VARCHAR(64) NOT NULL REFERENCES photos (id))"
        )
        held = sa.text("INSERT INTO clings VALUES (:id)")
        connection.execute(held, {"id": late[1].id})
    assert set(ledger.expire()) == {late[0].files_key, late[2].files_key}
    assert ledger.expire() == ()
    assert ledger.known_references([row.id for row in late]) == {late[1].id}
    assert f"{late[1].id} cannot be deleted" in caplog.text


def test_a_pack_that_cannot_be_freed_keeps_no_other(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = [asker.ask() for _ in range(3)]
    for _ in asked:
        ledger.claim("w/1")
    with ledger._database.writing() as connection:
        stuck = f"NEW.id = '{asked[1].id}' AND NEW.state <> 'making'"
        if ledger._database.sqlite:
            connection.exec_driver_sql(
                f"CREATE TRIGGER stuck BEFORE UPDATE ON packs WHEN {stuck}"
                " BEGIN SELECT RAISE(ABORT, 'stuck'); END"
            )
        else:
            check = f"CHECK (id <> '{asked[1].id}' OR state = 'making')"
            connection.exec_driver_sql(f"ALTER TABLE packs ADD CONSTRAINT stuck {check}")
    clock.now += ledger.lease_s + 1
    assert set(ledger.free_lapsed().requeued) == {asked[0].id, asked[2].id}


@pytest.mark.parametrize("told", ["server closed the connection unexpectedly", "disk I/O error"])
def test_a_commit_whose_answer_is_lost_is_told_from_one_refused(
    ledger: Ledger, asker: Asker, monkeypatch: pytest.MonkeyPatch, told: str
) -> None:
    lose_answers(ledger, monkeypatch, told)
    with pytest.raises(OutcomeUnknown, match="may be done"):
        asker.ask()
    monkeypatch.undo()
    assert ledger.waiting() == 1
    lose_answers(ledger, monkeypatch, "database or disk is full", done=False)
    with pytest.raises(StorageFull):
        asker.ask()
    monkeypatch.undo()
    assert ledger.waiting() == 1


def lose_answers(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch, told: str, *, done: bool = True
) -> None:
    """Have commits fail with these words of the driver's, after or before they are done."""
    dialect = ledger._database.engine.dialect
    commit = dialect.do_commit

    def fail(connection: sa.PoolProxiedConnection) -> None:
        if done:
            commit(connection)
        raise dialect.loaded_dbapi.OperationalError(told)  # type: ignore[attr-defined]

    monkeypatch.setattr(dialect, "do_commit", fail)


def test_a_server_that_vanishes_is_noticed_within_seconds() -> None:
    """PostgreSQL 15, 34.1.2: parameters of libpq, which a URL may set itself."""
    asked: dict[str, Any] = {}

    def connect(*arguments: Any) -> Any:
        asked.update(arguments[-1])
        raise sa.exc.OperationalError("connect", None, Exception("not now"))

    database = Database("postgresql+psycopg://nobody@127.0.0.1:1/none?connect_timeout=2")
    sa.event.listen(database.engine, "do_connect", connect)
    with pytest.raises(LedgerUnavailable), database.reading():
        pass
    assert int(asked["connect_timeout"]) == 2
    silent_s = asked["keepalives_idle"] + asked["keepalives_interval"] * asked["keepalives_count"]
    assert max(silent_s, asked["tcp_user_timeout"] / 1000) <= 30
