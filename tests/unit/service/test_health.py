"""Ready means that packs are made, not that none waits."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from flask import Flask

from service import health
from service.app import create_app
from service.health import KEPT_S, LONGEST_WAIT_S
from service.runtime.context import EXTENSION
from tests.clock import Clock
from worker.errors import StorageUnavailable
from worker.settings import Settings
from worker.store.files.worker_lock import try_worker_lock
from worker.store.ledger import Ledger, NewPack, ReferenceRow
from worker.store.ledger.ledger import MOST_DIFFERENCE_S


@pytest.fixture(autouse=True)
def looks_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """What changes within a test is seen at once."""
    monkeypatch.setattr(health, "KEPT_S", 0.0)


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def ledger(app: Flask) -> Iterator[Ledger]:
    """The same ledger with a clock that is late: two packs have waited for too long."""
    settings: Settings = app.extensions[EXTENSION].settings
    late = Ledger.open(settings.ledger_url, clock=lambda: time.time() - 2 * LONGEST_WAIT_S)
    photo = late.add_reference(
        ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    )
    for _ in range(2):
        late.enqueue(NewPack(reference_id=photo.id, spec={}))
    yield late
    late.close()


def told(app: Flask) -> tuple[int, dict[str, str], dict[str, str]]:
    """Status, checks, and what to do."""
    answer = app.test_client().get("/readyz")
    document = answer.get_json()
    return answer.status_code, document["checks"], document["todo"]


def test_every_part_is_looked_at(app: Flask) -> None:
    lock = try_worker_lock(app.extensions[EXTENSION].settings.data_dir)
    assert lock is not None
    status, parts, todo = told(app)
    assert status == 200
    assert parts == dict.fromkeys(
        (
            "ledger",
            "migrations",
            "storage",
            "room",
            "worker",
            "broker",
            "workers",
            "clock",
        ),
        "ok",
    )
    assert todo == {}
    lock.release()
    status, parts, todo = told(app)
    assert (status, parts["workers"]) == (200, "no-worker")
    assert "start ricalco worker" in todo["workers"]


def test_a_broker_that_is_away_is_told_and_packs_are_taken(tmp_path: Path) -> None:
    away = Settings(data_dir=tmp_path, broker_url="redis://127.0.0.1:1/0")
    made = create_app(away)
    ledger: Ledger = made.extensions[EXTENSION].ledger
    ledger.workers.note("one", 2, "1")
    status, parts, todo = told(made)
    assert (status, parts["broker"], parts["workers"]) == (200, "broker-unavailable", "ok")
    assert "RICALCO_BROKER_URL" in todo["broker"]
    ledger.close()


def test_clocks_that_differ_are_told(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    ledger: Ledger = app.extensions[EXTENSION].ledger
    monkeypatch.setattr(ledger, "_clock", lambda: time.time() + 2 * MOST_DIFFERENCE_S)
    status, parts, todo = told(app)
    assert (status, parts["clock"]) == (200, "clock-differs")
    assert "NTP" in todo["clock"]


def test_a_ledger_of_an_older_version_is_not_ready_and_of_a_newer_one_is(app: Flask) -> None:
    """An older copy was put back; and a newer process has updated it while this one still runs."""
    ledger: Ledger = app.extensions[EXTENSION].ledger
    for step, status, code in (("0001", 503, "ledger-outdated"), ("9999", 200, "ok")):
        with ledger._database.writing() as connection:
            connection.execute(
                sa.text("UPDATE alembic_version SET version_num = :to"), {"to": step}
            )
        found, parts, _ = told(app)
        assert (found, parts["migrations"]) == (status, code)


def test_files_that_come_back_changed_are_told(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "read_bytes", lambda _: b"something else")
    status, parts, todo = told(app)
    assert (status, parts["storage"]) == (503, "storage-unavailable")
    assert todo["storage"]


def test_probes_of_many_balancers_look_once(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault is told by the first answer past its time, and so is its end."""
    monkeypatch.setattr(health, "KEPT_S", KEPT_S)
    context = app.extensions[EXTENSION]
    clock, looks = Clock(), []
    monkeypatch.setattr(context.last_checks, "_clock", clock)

    def check() -> None:
        looks.append(clock.now)
        if len(looks) == 2:
            raise StorageUnavailable("The bucket is away.")

    monkeypatch.setattr(context.storage, "check", check)
    for clock.now, status in ((50.0, 200), (52.0, 200), (53.0, 503), (55.9, 503), (56.0, 200)):
        assert {told(app)[0] for _ in range(20)} == {status}
    assert looks == [50.0, 53.0, 56.0]


def checks(app: Flask) -> tuple[int, str]:
    answer = app.test_client().get("/readyz")
    return answer.status_code, answer.get_json()["checks"]["worker"]


def test_a_pack_that_waits_for_nobody_is_told_of(app: Flask, ledger: Ledger) -> None:
    assert checks(app) == (503, "waits-too-long")
    # This one's worker died as long ago.
    assert ledger.claim("dead")
    assert checks(app) == (503, "waits-too-long")


def test_the_end_of_a_long_queue_is_no_fault(app: Flask, ledger: Ledger) -> None:
    claim = app.extensions[EXTENSION].ledger.claim("alive")
    assert checks(app) == (200, "ok")
    assert app.extensions[EXTENSION].ledger.fail(claim, "too-slow", "Because.")
    assert ledger.gauges().packs["queued"] == 1
    assert checks(app) == (200, "ok")
