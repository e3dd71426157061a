"""Without a broker: real worker processes, killed and stopped at bad moments.

The maker only pretends here, so that faults can be ordered to the moment; the ledger,
the files, the processes and the signals are real.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.waiting import HANG_S, wait_until
from worker.errors import NotFound
from worker.jobs.upkeep.sweeper import SWEEP_S
from worker.settings import Settings

pytestmark = pytest.mark.slow

StartWorker = Callable[..., Any]


@pytest.fixture
def gate(tmp_path: Path) -> Path:
    """A file: packs that wait for it are made on once it is there."""
    return tmp_path / "gate"


@pytest.mark.alone
def test_a_commit_starts_a_pack_at_once(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(settings, fake=True)
    waits_s = []
    for _ in range(9):
        (pack_id,) = desk.ask(pieces=1, piece_s=0.01)
        desk.wait_ended()
        row = desk.row(pack_id)
        waits_s.append(row.started_at - row.created_at)
    # 40 ms on a quiet machine; the bound leaves room for a busy one.
    assert statistics.median(waits_s) < 0.2
    desk.check()


def test_twenty_packs_outlive_kill_9_of_the_worker(
    settings: Settings, desk: Any, start_worker: StartWorker, gate: Path
) -> None:
    worker = start_worker(settings, fake=True)
    desk.ask(6, pieces=10, piece_s=0.03)
    desk.ask(14, pieces=10, act="wait", gate=str(gate))
    wait_until(lambda: desk.count("ready") == 6 and desk.count("making") == 2)
    worker.kill()
    gate.touch()
    assert (desk.count("making"), desk.count("queued")) == (2, 12)
    start_worker(settings, fake=True)
    desk.wait_ended()
    assert desk.count("ready") == 20
    desk.check()


def test_a_machines_sleep_costs_no_attempt(
    settings: Settings, desk: Any, start_worker: StartWorker, gate: Path
) -> None:
    """All its processes are stopped for longer than a lease, and the sweeper wakes first."""
    strict = replace(settings, workers=1, attempts=1)
    worker = start_worker(strict, fake=True)
    (pack_id,) = desk.ask(act="wait", gate=str(gate))
    wait_until(lambda: desk.row(pack_id).done == 2)
    family = worker.family()
    for process in reversed(family):
        process.suspend()
    time.sleep(max(SWEEP_S, strict.lease_seconds) + 1)
    assert desk.ledger.lapsed_leases()
    for process in family:
        process.resume()
        time.sleep(0.5)
    gate.touch()
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.attempt, row.error_code) == ("ready", 1, None)
    desk.check()


def test_a_making_longer_than_a_lease_is_left_in_peace(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    """It says nothing meanwhile, as while a picture's lines are found."""
    start_worker(replace(settings, workers=1, attempts=1, lease_seconds=1), fake=True)
    (pack_id,) = desk.ask(pieces=1, piece_s=2 * SWEEP_S + 2)
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.attempt, row.error_code) == ("ready", 1, None)
    desk.check()


def test_children_end_when_their_worker_is_killed(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    worker = start_worker(settings, fake=True)
    (pack_id,) = desk.ask(act="wait")
    wait_until(lambda: desk.row(pack_id).state == "making")
    children = worker.family()[1:]
    assert len(children) == settings.workers
    worker.kill()
    _, alive = psutil.wait_procs(children, timeout=HANG_S)
    assert not alive


def test_what_a_killed_worker_held_is_taken_over_at_once(
    settings: Settings, desk: Any, start_worker: StartWorker, gate: Path
) -> None:
    patient = replace(settings, lease_seconds=300)
    desk.ledger.lease_s = 300
    worker = start_worker(patient, fake=True)
    (pack_id,) = desk.ask(act="wait", gate=str(gate))
    wait_until(lambda: desk.row(pack_id).state == "making")
    worker.kill()
    gate.touch()
    start_worker(patient, fake=True)
    desk.wait_ended()
    assert desk.row(pack_id).state == "ready"
    assert desk.row(pack_id).attempt == 2
    desk.check()


def test_a_pack_that_kills_its_maker_is_given_up_and_the_worker_lives(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(replace(settings, attempts=2, lease_seconds=300), fake=True)
    (poison,) = desk.ask(act="die")
    (good,) = desk.ask()
    desk.wait_ended()
    assert desk.row(good).state == "ready"
    row = desk.row(poison)
    assert (row.state, row.error_code, row.attempt) == ("failed", "gave-up", 2)
    assert "2 times" in row.error_detail
    desk.check()


def test_an_unexpected_error_is_tried_again_and_told_to_the_log_only(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    worker = start_worker(settings, fake=True)
    (poison,) = desk.ask(act="raise")
    (good,) = desk.ask()
    desk.wait_ended()
    row = desk.row(poison)
    assert (row.state, row.error_code, row.attempt) == ("failed", "gave-up", settings.attempts)
    assert "secret" not in row.error_detail
    assert "ZeroDivisionError: a secret of the inside" in worker.output
    assert desk.row(good).state == "ready"
    desk.check()


def test_cancelling_works_while_making(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(settings, fake=True)
    (pack_id,) = desk.ask(pieces=10, act="wait")
    wait_until(lambda: desk.row(pack_id).done == 5)
    assert desk.ledger.cancel_or_delete(pack_id, "local").pack.cancel_requested
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.error_code, row.done, row.total) == ("cancelled", None, 5, 10)
    desk.check()


def test_a_reference_that_is_deleted_takes_its_packs_along(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(settings, fake=True)
    (pack_id,) = desk.ask(act="wait")
    wait_until(lambda: desk.row(pack_id).state == "making")
    desk.ledger.delete_reference(desk.reference_id, "local")
    with pytest.raises(NotFound):
        desk.row(pack_id)
    wait_until(lambda: not desk.leftovers())
    assert list(desk.storage.keys("packs")) == []


def test_a_pack_that_takes_too_long_is_stopped_between_pieces(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(replace(settings, soft_limit_seconds=1, hard_limit_seconds=60), fake=True)
    (pack_id,) = desk.ask(act="wait")
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.error_code, row.attempt) == ("failed", "too-slow", 1)
    desk.check()


def test_a_making_that_hangs_is_killed_and_its_place_used_again(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    limits = replace(settings, workers=1, soft_limit_seconds=1, hard_limit_seconds=2)
    start_worker(limits, fake=True)
    (hung,) = desk.ask(act="hang")
    (good,) = desk.ask()
    desk.wait_ended()
    assert desk.row(hung).error_code == "too-slow"
    assert desk.row(good).state == "ready"
    desk.check()


def test_sigterm_lets_the_running_pack_be_finished(
    settings: Settings, desk: Any, start_worker: StartWorker, gate: Path
) -> None:
    worker = start_worker(replace(settings, workers=1), fake=True)
    running, waiting = desk.ask(2, act="wait", gate=str(gate))
    wait_until(lambda: desk.row(running).done > 0)
    worker.process.terminate()
    worker.wait_for("stopping.")
    gate.touch()
    assert worker.process.wait(HANG_S) == 0
    assert desk.row(running).state == "ready"
    assert desk.row(waiting).state == "queued"
    assert desk.row(waiting).attempt == 0


def test_the_worker_ends_when_whoever_started_it_is_gone(
    settings: Settings, desk: Any, start_worker: StartWorker, gate: Path
) -> None:
    worker = start_worker(settings, "--watch-parent", fake=True)
    (running,) = desk.ask(act="wait", gate=str(gate))
    wait_until(lambda: desk.row(running).done > 0)
    worker.process.stdin.close()
    worker.wait_for("stopping.")
    gate.touch()
    assert worker.process.wait(HANG_S) == 0
    assert desk.row(running).state == "ready"
    desk.check()


def test_what_is_wrong_with_the_set_up_takes_one_line(settings: Settings) -> None:
    settings.data_dir.parent.mkdir(exist_ok=True)
    settings.data_dir.write_text("a file where the folder should be")
    env = {**os.environ, **settings.to_env()}
    command = [sys.executable, "-m", "worker.jobs.process"]
    ended = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert ended.returncode == 78  # EX_CONFIG of sysexits.h
    assert len(ended.stderr.splitlines()) == 1
    assert str(settings.data_dir) in ended.stderr
