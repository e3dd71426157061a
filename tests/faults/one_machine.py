"""One machine: `ricalco serve` on SQLite and a folder, on a small disk and with a clock to set."""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import psutil
import pytest

from tests.faults.parts import Clock, Part, answers, kill, stopped
from tests.faults.place import LEASE_S, Fault, Place
from tests.ports import free_port
from tests.small_disks import SmallDisk, small_disk
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.ledger import open_ledger

_DISK_MEGABYTES = 600
_CLOCK_STEPS_S = (3600, -3600, 86_400, 9, -9)
_NIGHT_S = 8 * 3600
_WEB, _WORKER = "service.web", "worker.jobs.process"


class OneMachine:
    """Starts it; `place` is what the run is given."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._ending = ExitStack()
        self._left_out: list[str] = []
        self._ahead_s = 0
        try:
            self._start()
        except BaseException:
            self._ending.close()
            raise

    def _start(self) -> None:
        self._disk = self._small_disk()
        settings = Settings(
            data_dir=self._folder / "data",
            port=free_port(),
            workers=2,
            lease_seconds=LEASE_S,
            soft_limit_seconds=40,
            hard_limit_seconds=60,
        )
        self._clock = Clock(self._folder)
        self._service = Part(
            "service",
            [sys.executable, "-m", "client.command", "serve"],
            {**settings.to_env(), **self._clock.environment()},
            self._folder / "service.log",
        )
        self._ending.callback(self._service.end)
        url = f"http://127.0.0.1:{settings.port}"
        wait_until(answers(f"{url}/readyz"))
        ledger = open_ledger(settings)
        self._ending.callback(ledger.close)
        self.place = Place(
            name="one machine",
            url=url,
            ledger=ledger,
            storage=open_storage(settings),
            attempts=settings.attempts,
            # Some thirty sheets, which take half a second.
            support_mm=(1500, 900),
            faults=self._faults(),
            left_out=self._left_out,
            logs=lambda: self._service.log.read_text(encoding="utf-8", errors="replace"),
            close=self._ending.close,
        )

    def _small_disk(self) -> SmallDisk | None:
        try:
            return self._ending.enter_context(small_disk(self._folder / "data", _DISK_MEGABYTES))
        except pytest.skip.Exception as reason:
            self._left_out.append(f"a full disk: {reason}")
            return None

    def _faults(self) -> list[Fault]:
        found = [
            Fault("kill -9 of the worker's child", 0.5, self._kill_child),
            Fault("kill -9 of the worker", 0.5, self._kill_worker),
            Fault("kill -9 of web", 0.5, self._kill_web),
            Fault("kill -9 of what starts both", 0.5, self._kill_all),
            Fault("SIGSTOP of the worker's child", 6.0, self._stop_child),
            Fault("SIGSTOP of the worker", 6.0, self._stop_worker),
            Fault("SIGSTOP of web", 3.0, self._stop_web),
        ]
        if self._disk is not None:
            found.append(Fault("the disk is full", 4.0, self._disk_full))
            found.append(Fault("the files' disk is not mounted", 3.0, self._unmounted))
        if self._clock.environment():
            found.append(Fault("the clock jumps", 1.0, self._clock_jumps))
            found.append(Fault("the laptop sleeps for eight hours", 6.0, self._sleep))
        else:
            self._left_out.append("clocks: there is no compiler of C (apt install gcc)")
        return found

    def _worker_family(self) -> list[psutil.Process]:
        """The worker, then its children; empty while it is being started."""
        supervisor = self._service.family()[:1]
        found = self._service.children(_WORKER)
        # A child has its parent's command.
        return sorted(found, key=lambda one: [one.ppid()] != [top.pid for top in supervisor])

    @contextmanager
    def _kill_child(self, _: random.Random) -> Iterator[None]:
        kill(self._worker_family()[1:][-1:])
        yield

    @contextmanager
    def _kill_worker(self, _: random.Random) -> Iterator[None]:
        kill(self._worker_family()[:1])
        yield

    @contextmanager
    def _kill_web(self, _: random.Random) -> Iterator[None]:
        kill(self._service.children(_WEB)[:1])
        yield

    @contextmanager
    def _kill_all(self, _: random.Random) -> Iterator[None]:
        self._service.kill()
        yield

    @contextmanager
    def _stop_child(self, _: random.Random) -> Iterator[None]:
        with stopped(self._worker_family()[1:][-1:]):
            yield

    @contextmanager
    def _stop_worker(self, _: random.Random) -> Iterator[None]:
        with stopped(self._worker_family()):
            yield

    @contextmanager
    def _stop_web(self, _: random.Random) -> Iterator[None]:
        with stopped(self._service.children(_WEB)):
            yield

    @contextmanager
    def _disk_full(self, _: random.Random) -> Iterator[None]:
        assert self._disk is not None
        with self._disk.filled():
            yield

    @contextmanager
    def _unmounted(self, _: random.Random) -> Iterator[None]:
        """The folder is there and empty, as it is below a disk that is not mounted."""
        with small_disk(self._folder / "data" / "files", 64):
            yield

    @contextmanager
    def _clock_jumps(self, chance: random.Random) -> Iterator[None]:
        self._set_clock(chance.choice(_CLOCK_STEPS_S))
        yield

    @contextmanager
    def _sleep(self, _: random.Random) -> Iterator[None]:
        """As on Linux: everything stands still, and the time of day goes on."""
        with stopped(self._service.family()):
            self._set_clock(_NIGHT_S)
            yield

    def _set_clock(self, step_s: int) -> None:
        self._ahead_s += step_s
        self._clock.set(self._ahead_s)
