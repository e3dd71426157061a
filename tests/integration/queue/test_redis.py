"""With a broker: two real workers on a real Redis, both killed at bad moments."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.waiting import HANG_S, wait_until
from worker.jobs import wake
from worker.jobs.wakeup import sender_for
from worker.settings import Settings

pytestmark = pytest.mark.slow

StartWorker = Callable[..., Any]


@pytest.fixture
def settings(settings: Settings, redis_server: Any) -> Settings:
    return replace(settings, broker_url=redis_server.url)


def test_twenty_packs_outlive_kill_9_of_one_of_two_workers(
    settings: Settings, desk: Any, start_worker: StartWorker, tmp_path: Path
) -> None:
    first = start_worker(settings, fake=True)
    start_worker(settings, fake=True)
    gate = tmp_path / "gate"
    desk.ask(4, pieces=10, piece_s=0.05)
    desk.ask(16, pieces=10, act="wait", gate=str(gate))
    # Each worker is making two of those that wait.
    wait_until(lambda: desk.count("ready") == 4 and desk.count("making") == 4)
    first.kill()
    gate.touch()
    desk.wait_ended()
    assert desk.count("ready") == 20
    desk.check()


def test_twenty_packs_outlive_kill_9_of_redis(
    settings: Settings, desk: Any, start_worker: StartWorker, redis_server: Any, tmp_path: Path
) -> None:
    workers = [start_worker(settings, fake=True) for _ in range(2)]
    gate = tmp_path / "gate"
    desk.ask(4, pieces=10, piece_s=0.05)
    desk.ask(16, pieces=10, act="wait", gate=str(gate))
    wait_until(lambda: desk.count("ready") == 4 and desk.count("making") == 4)
    redis_server.kill()
    gate.touch()
    time.sleep(1)
    redis_server.start()
    desk.wait_ended()
    assert desk.count("ready") == 20
    assert [worker.process.poll() for worker in workers] == [None, None]
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_twenty_real_packs_outlive_kill_9_of_a_worker_and_of_redis(
    settings: Settings, desk: Any, start_worker: StartWorker, redis_server: Any
) -> None:
    first = start_worker(replace(settings, workers=1))
    second = start_worker(replace(settings, workers=1))
    desk.ask(20, support={"width_mm": 400, "height_mm": 300})
    wait_until(lambda: desk.count("ready") >= 3)
    redis_server.kill()
    first.kill()
    time.sleep(0.5)
    redis_server.start()
    desk.wait_ended()
    assert desk.count("ready") == 20
    assert second.process.poll() is None
    desk.check()


def test_a_broker_that_is_away_costs_time_but_no_pack(
    settings: Settings, desk: Any, start_worker: StartWorker, redis_server: Any
) -> None:
    start_worker(settings, fake=True)
    redis_server.kill()
    (pack_id,) = desk.ask()
    redis_server.start()
    desk.wait_ended()
    assert desk.row(pack_id).state == "ready"
    desk.check()


def test_messages_too_many_do_no_harm(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    desk.ask(3)
    for _ in range(30):
        wake(settings)
    assert sender_for(settings).pending() == 33
    start_worker(settings, fake=True)
    desk.wait_ended()
    assert [desk.row(pack_id).attempt for pack_id in desk.ids] == [1, 1, 1]
    wait_until(lambda: sender_for(settings).pending() == 0)
    desk.check()


def test_a_pack_that_kills_its_maker_does_not_loop(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(replace(settings, attempts=2), fake=True)
    (poison,) = desk.ask(act="die")
    (good,) = desk.ask()
    desk.wait_ended()
    row = desk.row(poison)
    assert (row.error_code, row.attempt) == ("gave-up", 2)
    assert desk.row(good).state == "ready"
    desk.check()


def test_sigterm_ends_a_worker_that_has_a_broker(
    settings: Settings, desk: Any, start_worker: StartWorker, tmp_path: Path
) -> None:
    worker = start_worker(settings, fake=True)
    gate = tmp_path / "gate"
    (running,) = desk.ask(act="wait", gate=str(gate))
    wait_until(lambda: desk.row(running).done > 0)
    worker.process.terminate()
    worker.wait_for("stopping.")
    gate.touch()
    assert worker.process.wait(HANG_S) == 0
    assert desk.row(running).state == "ready"
