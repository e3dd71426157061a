"""Parts of the queue that need no process of their own."""

from __future__ import annotations

import json
import logging
import subprocess
import sys
import threading
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import pytest

from tests.unit.jobs.conftest import RecordingSender, ask, publish
from worker.errors import (
    LedgerUnavailable,
    PlanOutdated,
    ReferenceGone,
    StorageFull,
    StorageUnavailable,
)
from worker.jobs import wake
from worker.jobs.celery_app import make_app, make_publisher
from worker.jobs.pack_from_plan import _master
from worker.jobs.pack_job import MadePack, PackRequest, PackWorker
from worker.jobs.upkeep.cleanup import remove_orphans
from worker.jobs.upkeep.sweeper import DEAF_SWEEPS, Sweeper, WorkerResources
from worker.jobs.wakeup import LedgerWatch, WorkerSlots
from worker.log_lines import log_to_stderr
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import Ledger, NewPack, PackResult, ReferenceRow
from worker.store.ledger.disk import scrubbing
from worker.store.metrics.counts import Counts


def slots(count: int, busy: int, *, room: bool = True) -> WorkerSlots:
    return WorkerSlots(count=count, busy=lambda: busy, room=lambda: room)


def test_a_service_on_one_machine_loads_no_celery() -> None:
    script = "import sys, service, worker.jobs; print('celery' in sys.modules)"
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert ended.stdout.strip() == "False"


def test_a_broker_that_is_away_is_no_error(settings: Settings) -> None:
    wake(settings)


def test_the_limits_of_redis_fit_together(settings: Settings) -> None:
    conf = make_app(settings).conf
    # Celery's documentation of the Redis transport: a task that runs longer than the
    # visibility timeout is given out again while it runs.
    assert conf.broker_transport_options["visibility_timeout"] > conf.task_time_limit
    assert conf.task_time_limit > settings.hard_limit_seconds
    assert conf.task_acks_late
    assert conf.worker_prefetch_multiplier == 1
    assert make_publisher(settings).conf.broker_transport_options["max_retries"] == 1


def test_one_machine_needs_no_broker(tmp_path: Path) -> None:
    conf = make_app(Settings(data_dir=tmp_path)).conf
    assert conf.broker_url.startswith("memory://")


def test_a_failed_acknowledgement_is_struck_off_the_books() -> None:
    from kombu.transport import redis as plain  # noqa: PLC0415 - the class that is mended

    from worker.jobs.redis_transport import Channel, QoS  # noqa: PLC0415

    class Unreachable:
        do_restore = False

        def conn_or_acquire(self, _client: Any = None) -> Any:
            raise ConnectionError

    books = QoS(Unreachable(), 1)
    assert issubclass(QoS, plain.QoS)
    assert Channel.QoS is QoS
    books._delivered["tag"] = object()
    assert not books.can_consume()
    with pytest.raises(ConnectionError):
        books.ack("tag")
    assert books.can_consume()
    books._delivered.clear()


def test_attempts_that_no_row_knows_are_removed(ledger: Ledger, storage: Storage) -> None:
    ready_id, making_id = ask(ledger, 2)
    claim = ledger.claim("w/1")
    assert claim is not None
    publish(storage, claim.files_key)
    publish(storage, f"packs/{ready_id}/late")
    made = PackResult(number="0000-0000", files_key=claim.files_key, total=1)
    assert ledger.finish(claim, made)
    current = ledger.claim("w/1")
    assert current is not None
    publish(storage, current.files_key)
    publish(storage, f"packs/{making_id}/lost")
    publish(storage, "packs/pck_deleted/a")
    publish(storage, "references/ref_just_taken_in")
    assert remove_orphans(ledger, storage) == 3
    assert list(storage.keys(f"packs/{ready_id}")) == [claim.files_key]
    assert list(storage.keys(f"packs/{making_id}")) == [current.files_key]
    assert list(storage.keys("packs")) == sorted(f"packs/{i}" for i in (ready_id, making_id))
    assert list(storage.keys("references")) == ["references/ref_just_taken_in"]


def test_old_references_without_a_row_are_removed(
    ledger: Ledger, storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.jobs.upkeep.cleanup.REFERENCE_AGE_S", -1.0)
    row = ReferenceRow(width_px=4, height_px=3, format="jpeg", sha256="0" * 64)
    ledger.add_reference(row)
    publish(storage, row.files_key)
    publish(storage, "references/ref_lost")
    assert remove_orphans(ledger, storage) == 1
    assert list(storage.keys("references")) == [row.files_key]


@pytest.mark.parametrize(("messages", "restarts"), [(1, True), (0, False)])
def test_a_worker_that_hears_nothing_restarts(
    settings: Settings, ledger: Ledger, storage: Storage, *, messages: int, restarts: bool
) -> None:
    ask(ledger)
    ledger._clock = lambda: 9e9
    restarted = threading.Event()
    wakeups: Any = RecordingSender(messages)
    resources = WorkerResources(
        settings=settings,
        holder="me",
        ledger=ledger,
        storage=storage,
        wakeups=wakeups,
        stop=threading.Event(),
        restart=restarted.set,
    )
    sweeper = Sweeper(resources)
    for _ in range(DEAF_SWEEPS):
        assert not restarted.is_set()
        sweeper.sweep()
    assert restarted.is_set() is restarts
    assert sum(wakeups.sent) == (0 if messages else DEAF_SWEEPS)


@pytest.mark.parametrize(
    ("waiting", "busy", "pending", "sent"),
    [(1, 0, 0, [1]), (9, 0, 0, [4]), (9, 2, 0, [2]), (9, 2, 2, []), (0, 0, 0, []), (9, 4, 0, [1])],
)
def test_the_watcher_keeps_two_messages_per_slot(
    ledger: Ledger, waiting: int, busy: int, pending: int, sent: list[int]
) -> None:
    ask(ledger, waiting)
    wakeups: Any = RecordingSender(pending)
    watcher = LedgerWatch(ledger, wakeups, slots(2, busy), threading.Event())
    # No more are counted than slots can want.
    assert watcher._send() == min(waiting, 2 * watcher._slots.count)
    assert wakeups.sent == sent


def test_the_ledger_is_not_asked_while_no_message_is_missing(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask(ledger, 9)
    asked, busy, stop = list[int](), [0], threading.Event()
    honest = ledger.waiting
    monkeypatch.setattr(ledger, "waiting", lambda **how: asked.append(1) or honest(**how))
    wakeups: Any = RecordingSender()
    full = threading.Event()
    # As Celery does: it takes two for each slot.
    wakeups.send = lambda times: (busy.__setitem__(0, busy[0] + times), full.set())
    two = WorkerSlots(count=2, busy=lambda: busy[0], room=lambda: True)
    watcher = LedgerWatch(ledger, wakeups, two, stop)
    watcher._sent_at = 9e9
    watcher.start()
    assert full.wait(5)
    ask(ledger)
    # Others write; some looks go by.
    stop.wait(0.3)
    assert asked == [1]
    # One is made, and leaves room for a message.
    full.clear()
    busy[0] -= 1
    assert full.wait(5)
    stop.set()
    watcher.join(5)
    assert busy == [4]


def test_nobody_is_woken_without_room(ledger: Ledger) -> None:
    ask(ledger, 3)
    wakeups: Any = RecordingSender()
    watcher = LedgerWatch(ledger, wakeups, slots(2, 0, room=False), threading.Event())
    assert watcher._send() == 0
    assert wakeups.sent == []


def test_upkeep_does_what_the_ledger_is_owed(
    settings: Settings, ledger: Ledger, storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reserve, the emptying of the log, and what packs that wait say."""
    resources = WorkerResources(
        settings=settings,
        holder="me",
        ledger=ledger,
        storage=storage,
        wakeups=RecordingSender(),  # type: ignore[arg-type]
        stop=threading.Event(),
        restart=lambda: None,
    )
    (pack_id,) = ask(ledger)
    reserve, database = ledger._database.reserve, ledger._database
    assert reserve is not None
    assert not reserve.is_complete()
    with database.reading() as connection:
        assert scrubbing.due_token(connection)
    Sweeper(resources).sweep()
    assert reserve.is_complete()
    with database.reading() as connection:
        assert not scrubbing.due_token(connection)
    monkeypatch.setattr("worker.store.files.folder.MIN_FREE_BYTES", 2**62)
    monkeypatch.setattr("worker.store.files.folder.SMALL_DISK_SHARE", 1)
    Sweeper(resources).sweep()
    assert ledger.pack(pack_id, "local").step == "waiting-for-room"
    assert not PackWorker(settings, "me", no_maker).make_next()
    monkeypatch.undo()
    Sweeper(resources).sweep()
    assert ledger.pack(pack_id, "local").step == ""


def no_maker(_: PackRequest) -> MadePack:
    raise AssertionError


def test_nothing_ends_the_watcher(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without it no pack would be begun on one machine, and nobody would notice."""
    stop = threading.Event()
    faults = iter([ZeroDivisionError(), LedgerUnavailable("away")])
    honest = ledger.data_version

    def version() -> int:
        for fault in faults:
            raise fault
        return honest()

    monkeypatch.setattr(ledger, "data_version", version)
    ask(ledger)
    rung = threading.Event()
    wakeups: Any = RecordingSender()
    wakeups.send = lambda _times: rung.set()
    watcher = LedgerWatch(ledger, wakeups, slots(1, 0), stop)
    watcher.start()
    assert rung.wait(5)
    stop.set()
    watcher.join(5)
    assert not watcher.is_alive()


def test_what_is_made_and_what_fails_is_counted(settings: Settings, ledger: Ledger) -> None:
    ask(ledger, 2)
    counts = Counts()

    def make(request: PackRequest) -> MadePack:
        if len(made) == 1:
            raise PlanOutdated("Another version planned it.")
        made.append(request.pack.id)
        (request.folder / "pack.pdf").write_bytes(b"x" * 10)
        request.heartbeat.progress(0, 1, "reading")
        request.heartbeat.progress(0, 1, "drawing")
        return MadePack(number="1", total=1)

    made: list[str] = []
    worker = PackWorker(settings, "me", make, counts=counts)
    assert worker.make_next()
    assert worker.make_next()
    found = counts.numbers()
    assert found["ricalco_packs_made", ()] == [1.0]
    assert found["ricalco_pack_failures", ("plan-outdated",)] == [1.0]
    assert found["ricalco_stored_bytes", ("pack",)] == [10.0]
    assert sum(found["ricalco_pack_wait_seconds", ()][:-1]) == 2.0
    assert sum(found["ricalco_make_seconds", ()][:-1]) == 1.0
    steps = {key[1] for key in found if key[0] == "ricalco_make_step_seconds"}
    assert steps == {("reading",), ("drawing",)}


def test_lines_of_a_pack_have_the_id_of_its_request(
    settings: Settings, ledger: Ledger, capsys: pytest.CaptureFixture[str]
) -> None:
    row = ReferenceRow(width_px=4, height_px=3, format="jpeg", sha256="0" * 64)
    photo = ledger.add_reference(row).id
    ledger.enqueue(NewPack(reference_id=photo, spec={}, request_id="req-00000001"))
    heard = threading.Event()

    def make(request: PackRequest) -> MadePack:
        # The heartbeat's thread logs what it cannot do.
        request.heartbeat._tick = speak  # type: ignore[method-assign]
        assert heard.wait(60)
        raise PlanOutdated("Another version planned it.")

    def speak() -> None:
        heard.set()
        raise StorageFull("Full.")

    root = logging.getLogger()
    before, level = root.handlers[:], root.level
    try:
        log_to_stderr("INFO")
        assert PackWorker(settings, "me", make).make_next()
    finally:
        root.handlers[:] = before
        root.setLevel(level)
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    events = " ".join(line["event"] for line in lines if line.get("request_id") == "req-00000001")
    assert "No heartbeat" in events
    assert "plan-outdated" in events


def test_a_ledger_that_is_away_is_logged_in_one_line(
    settings: Settings, caplog: pytest.LogCaptureFixture
) -> None:
    """The task of a message ends in order, so that no trace of it fills the log."""
    away = replace(settings, database_url="postgresql+psycopg://nobody@127.0.0.1:1/none")
    worker = PackWorker(away, "w", lambda _: MadePack(number="", total=0))
    assert not worker.make_next()
    (record,) = caplog.records
    assert record.levelname == "WARNING"
    assert record.exc_info is None


def test_a_disk_that_is_not_mounted_loses_no_photo(ledger: Ledger, storage: Storage) -> None:
    """A pack fails for its photo only where others still have theirs."""
    ask(ledger)
    claim = ledger.claim("w/1")
    assert claim is not None
    away: Any = PackRequest(
        pack=claim.pack, storage=storage, folder=Path(), heartbeat=Mock(), threads=1
    )
    with ExitStack() as open_files:
        with pytest.raises(StorageUnavailable):
            _master(away, open_files)
        publish(storage, "references/ref_of_another")
        with pytest.raises(ReferenceGone):
            _master(away, open_files)
