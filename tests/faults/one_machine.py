"""One machine: `ricalco serve` on SQLite and a folder, on a small disk and with a clock to set."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager

import psutil

from tests.faults.machines import Machines
from tests.faults.parts import answers, kill, stopped
from tests.faults.place import LEASE_S, Fault, Place
from tests.servers.ports import free_port
from tests.small_disks import small_disk
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.ledger import open_ledger

_DISK_MEGABYTES = 600
_CLOCK_STEPS_S = (3600, -3600, 86_400, 9, -9)
_NIGHT_S = 8 * 3600
_WEB, _WORKER = "service.web", "worker.jobs.process"


class OneMachine(Machines):
    """One service, which starts its web process and its worker."""

    def _start(self) -> None:
        self._ahead_s = 0
        self._small_disk("data", _DISK_MEGABYTES)
        settings = Settings(
            data_dir=self._folder / "data",
            port=free_port(),
            workers=2,
            lease_seconds=LEASE_S,
            soft_limit_seconds=40,
            hard_limit_seconds=60,
        )
        serve = ["-m", "client.command", "serve"]
        self._service = self._part("service", serve, settings, self._clock.environment())
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
            logs=lambda: self._log_of(self._service),
            close=self._ending.close,
        )

    def _faults(self) -> list[Fault]:
        return [
            Fault("kill -9 of the worker's child", 0.5, self._kill_child),
            Fault("kill -9 of the worker", 0.5, self._kill_worker),
            Fault("kill -9 of web", 0.5, self._kill_web),
            Fault("kill -9 of what starts both", 0.5, self._kill_all),
            Fault("SIGSTOP of the worker's child", 6.0, self._stop_child),
            Fault("SIGSTOP of the worker", 6.0, self._stop_worker),
            Fault("SIGSTOP of web", 3.0, self._stop_web),
            *self._of_disk(
                Fault("the disk is full", 4.0, self._disk_full),
                Fault("the files' disk is not mounted", 3.0, self._unmounted),
            ),
            *self._of_clock(
                Fault("the clock jumps", 1.0, self._clock_jumps),
                Fault("the laptop sleeps for eight hours", 6.0, self._sleep),
            ),
        ]

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
