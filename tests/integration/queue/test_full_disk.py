"""Real worker processes on a disk that fills and is emptied: every pack ends ready."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.small_disks import SmallDisk, small_disk
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.ledger.packs.claims import WAITING_FOR_ROOM

StartWorker = Callable[..., Any]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    with small_disk(tmp_path / "data", 96) as mounted:
        yield mounted


@pytest.fixture
def settings(disk: SmallDisk) -> Settings:
    return Settings(data_dir=disk.path, workers=2, lease_seconds=3)


def test_packs_under_way_when_the_disk_fills_end_ready(
    settings: Settings, desk: Any, start_worker: StartWorker, disk: SmallDisk, tmp_path: Path
) -> None:
    worker = start_worker(settings, fake=True)
    gate = tmp_path / "gate"
    # Of such a pack two do not fit into what the ledger keeps free for itself.
    desk.ask(2, bytes=4_500_000)
    desk.ask(8, act="wait", gate=str(gate), bytes=4_500_000)
    wait_until(lambda: desk.count("ready") == 2 and desk.count("making") == 2)
    disk.fill()
    gate.touch()
    wait_until(lambda: "could not be kept, again" in worker.output)
    wait_until(lambda: desk.count("making") == 0)
    # Nothing is begun, however long it lasts: leases and sweeps come and go meanwhile.
    ready = desk.count("ready")
    time.sleep(7)
    assert desk.count("ready") == ready
    assert desk.count("queued") == 10 - ready
    waiting = [row for row in map(desk.row, desk.ids) if row.state == "queued"]
    assert WAITING_FOR_ROOM in {row.step for row in waiting}
    disk.empty()
    desk.wait_ended()
    assert desk.count("ready") == 10
    assert {desk.row(one).attempt for one in desk.ids} == {1}
    assert "Traceback" not in worker.output
    desk.check()


def test_a_worker_that_starts_on_a_full_disk_waits(
    settings: Settings, desk: Any, start_worker: StartWorker, disk: SmallDisk
) -> None:
    desk.ask(3, pieces=2)
    disk.fill()
    worker = start_worker(settings, fake=True)
    wait_until(lambda: "Packs wait for somewhere to be kept" in worker.output)
    assert desk.count("queued") == 3
    disk.empty()
    desk.wait_ended()
    assert desk.count("ready") == 3
    desk.check()
