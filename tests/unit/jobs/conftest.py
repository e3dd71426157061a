"""A worker's tools without a worker process: ledger and files are real."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.migrated import migrated
from worker.jobs.upkeep.sweeper import WorkerResources
from worker.settings import Settings
from worker.store.files import Storage, open_storage
from worker.store.ledger import Ledger, NewPack, ReferenceRow, open_ledger


class Time:
    """Both of a machine's clocks, turned by the test in place of the real ones."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.wall_s = 1_000_000.0
        self.monotonic_s = 500.0
        for module in ("worker.jobs.clocks", "worker.store.ledger.database.database"):
            monkeypatch.setattr(f"{module}.time", self)

    def time(self) -> float:
        """As `time.time`."""
        return self.wall_s

    def monotonic(self) -> float:
        """As `time.monotonic`."""
        return self.monotonic_s

    def passes(self, seconds: float) -> None:
        """Time goes by, and nobody sleeps."""
        self.wall_s += seconds
        self.monotonic_s += seconds

    def sleep_through(self, seconds: float) -> None:
        """The machine sleeps: CLOCK_MONOTONIC does not count that on Linux, clock_gettime(2)."""
        self.wall_s += seconds


@pytest.fixture
def clocks(monkeypatch: pytest.MonkeyPatch) -> Time:
    return Time(monkeypatch)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data_dir=tmp_path, broker_url="redis://127.0.0.1:1/0", workers=2)


@pytest.fixture
def ledger(settings: Settings) -> Iterator[Ledger]:
    opened = open_ledger(settings)
    yield migrated(opened)
    opened.close()


@pytest.fixture
def storage(settings: Settings) -> Storage:
    return open_storage(settings)


class RecordingSender:
    """Records what is sent; `messages` wait in its queue."""

    def __init__(self, messages: int = 0) -> None:
        self.messages = messages
        self.sent: list[int] = []

    def send(self, times: int = 1) -> bool:
        self.sent.append(times)
        return True

    def pending(self) -> int:
        return self.messages


@pytest.fixture
def resources(settings: Settings, ledger: Ledger, storage: Storage) -> WorkerResources:
    wakeups: Any = RecordingSender()
    return WorkerResources(
        settings=settings,
        holder="me",
        ledger=ledger,
        storage=storage,
        wakeups=wakeups,
        stop=threading.Event(),
        restart=lambda: None,
    )


def ask(ledger: Ledger, count: int = 1) -> list[str]:
    """Ids of packs that were asked for."""
    row = ReferenceRow(width_px=4, height_px=3, format="jpeg", sha256="0" * 64)
    reference_id = ledger.add_reference(row).id
    new = [NewPack(reference_id=reference_id, spec={}) for _ in range(count)]
    return [ledger.enqueue(one).id for one in new]


def publish(storage: Storage, key: str) -> None:
    """Have a file under a key."""
    with storage.workspace() as folder:
        (folder / "pack.pdf").write_bytes(b"x")
        storage.publish(folder, key)
