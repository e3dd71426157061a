"""Many machines: web and two workers with Redis, PostgreSQL and a bucket, each behind a proxy."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import boto3
import psutil
import pytest

from tests.faults.machines import Machines
from tests.faults.parts import answers, kill, stopped, wait_for_log
from tests.faults.place import LEASE_S, Fault, Place
from tests.faults.proxy import Mode, Proxy
from tests.integration.conftest import RedisServer
from tests.servers.ports import free_port
from tests.servers.postgresql import PostgresServer
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.ledger import open_ledger

_DISK_MEGABYTES = 64
#: Any will do: the server asks for some and believes all.
_LOGIN = {"AWS_ACCESS_KEY_ID": "tests", "AWS_SECRET_ACCESS_KEY": "tests"}
_CLOCK_STEPS_S = (3600, -3600, 86_400, 7, -7)
Happening = AbstractContextManager[None]


@dataclass(frozen=True, kw_only=True)
class _Wires:
    """The proxies of one program."""

    redis: Proxy
    ledger: Proxy
    storage: Proxy

    @contextmanager
    def doing(self, mode: Mode) -> Iterator[None]:
        with self.redis.doing(mode), self.ledger.doing(mode), self.storage.doing(mode):
            yield

    def close(self) -> None:
        for proxy in (self.redis, self.ledger, self.storage):
            proxy.close()


class ManyMachines(Machines):
    """All of it on this machine."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._seed = seed
        super().__init__(folder)

    def _start(self) -> None:
        self._login()
        self._redis_folder = self._folder / "redis"
        self._redis_folder.mkdir()
        self._redis = RedisServer(self._redis_folder)
        self._ending.callback(self._redis.kill)
        self._postgres = PostgresServer()
        self._ending.callback(self._postgres.end)
        self._direct = self._with_storage(
            Settings(
                data_dir=self._folder / "direct",
                broker_url=self._redis.url,
                database_url=self._postgres.new_database(),
                port=free_port(),
                workers=2,
                lease_seconds=LEASE_S,
                soft_limit_seconds=40,
                hard_limit_seconds=60,
            )
        )
        self._wires = [self._wire(number) for number in range(3)]
        self._small_disk("first", _DISK_MEGABYTES)
        web, first, second = (
            self._through(*pair) for pair in enumerate(("web", "first", "second"))
        )
        ledger = open_ledger(self._direct)
        self._ending.callback(ledger.close)
        ledger.migrate()
        self._web = self._part("web", ["-m", "service.web"], web)
        workers = ["-m", "tests.faults.slow_worker"]
        self._workers = [
            self._part("first", workers, first, self._clock.environment()),
            self._part("second", workers, second),
        ]
        for worker in self._workers:
            wait_for_log(worker, "ready.")
        url = f"http://127.0.0.1:{self._direct.port}"
        wait_until(answers(f"{url}/readyz"))
        self.place = Place(
            name="many machines",
            url=url,
            ledger=ledger,
            storage=open_storage(self._direct),
            attempts=self._direct.attempts,
            # Two sheets A4; the workers take their time over each.
            support_mm=(300, 180),
            faults=self._faults(),
            left_out=self._left_out,
            logs=lambda: "".join(self._log_of(one) for one in (self._web, *self._workers)),
            close=self._ending.close,
        )

    def _login(self) -> None:
        patch = pytest.MonkeyPatch()
        self._ending.callback(patch.undo)
        for name, value in _LOGIN.items():
            patch.setenv(name, value)

    def _with_storage(self, settings: Settings) -> Settings:
        """Start a server that speaks S3, with a bucket."""
        self._storage_port = free_port()
        endpoint = f"http://127.0.0.1:{self._storage_port}"
        self._bucket_server = self._part(
            "storage", ["-m", "moto.server", "-p", str(self._storage_port)], settings
        )
        wait_until(answers(f"{endpoint}/"))
        client = boto3.session.Session().client(
            "s3", endpoint_url=endpoint, region_name="us-east-1"
        )
        client.create_bucket(Bucket="files")
        return replace(settings, storage_url=self._bucket_url(self._storage_port))

    @staticmethod
    def _bucket_url(port: int) -> str:
        return f"s3://files/school?endpoint=http://127.0.0.1:{port}&region=us-east-1"

    def _wire(self, number: int) -> _Wires:
        ports = (self._redis.port, self._postgres.port, self._storage_port)
        redis, ledger, storage = (Proxy(port, self._seed + number) for port in ports)
        wires = _Wires(redis=redis, ledger=ledger, storage=storage)
        self._ending.callback(wires.close)
        return wires

    def _through(self, number: int, name: str) -> Settings:
        """The settings of one program, whose servers are behind its proxies."""
        wires, direct = self._wires[number], self._direct
        url = direct.database_url.replace(f":{self._postgres.port}/", f":{wires.ledger.port}/")
        return replace(
            direct,
            data_dir=self._folder / name,
            broker_url=f"redis://127.0.0.1:{wires.redis.port}/0",
            database_url=url,
            storage_url=self._bucket_url(wires.storage.port),
        )

    def _faults(self) -> list[Fault]:
        web, first, second = self._wires
        return [
            Fault("kill -9 of a worker's child", 0.5, self._kill_child, cheap=True),
            Fault("kill -9 of a worker", 0.5, self._kill_worker),
            Fault("kill -9 of web", 0.5, _once(self._kill_web)),
            Fault("Redis killed and started again", 1.5, self._redis_away),
            Fault("Redis loses its data", 1.0, self._redis_emptied, cheap=True),
            Fault("PostgreSQL restarted", 1.0, self._postgres_restarted, cheap=True),
            Fault("PostgreSQL killed -9", 1.0, self._postgres_killed),
            Fault("a worker's commits lose answers", 3.0, _doing(first.ledger, "lost-commits")),
            Fault(
                "web's commits lose answers", 3.0, _doing(web.ledger, "lost-commits"), cheap=True
            ),
            Fault("storage is slow", 4.0, _both(first.storage, second.storage, "slow")),
            Fault(
                "storage answers with errors",
                3.0,
                _both(first.storage, second.storage, "http-errors"),
                cheap=True,
            ),
            Fault("storage does not answer", 4.0, _both(first.storage, web.storage, "silent")),
            Fault("storage cannot be reached", 3.0, _both(second.storage, web.storage, "cut")),
            Fault("a worker is cut off from all", 4.0, lambda _: second.doing("cut")),
            Fault("a worker hears nothing of all", 6.0, lambda _: first.doing("silent")),
            Fault("web is cut off from all", 3.0, lambda _: web.doing("cut")),
            Fault("SIGSTOP of a worker's child", 6.0, self._stop_child),
            Fault("SIGSTOP of a worker", 6.0, self._stop_worker),
            Fault("SIGSTOP of web", 3.0, lambda _: stopped(self._web.family())),
            Fault("SIGSTOP of Redis", 3.0, lambda _: stopped([self._redis_process()])),
            Fault("SIGSTOP of PostgreSQL", 3.0, lambda _: stopped(self._postgres_family())),
            Fault("SIGSTOP of storage", 3.0, lambda _: stopped(self._bucket_server.family())),
            *self._of_disk(Fault("a worker's disk is full", 4.0, self._disk_full)),
            *self._of_clock(Fault("a worker's clock jumps", 1.0, self._clock_jumps)),
        ]

    @contextmanager
    def _kill_child(self, chance: random.Random) -> Iterator[None]:
        kill(chance.choice(self._workers).children()[-1:])
        yield

    @contextmanager
    def _kill_worker(self, chance: random.Random) -> Iterator[None]:
        chance.choice(self._workers).kill()
        yield

    def _kill_web(self) -> None:
        self._web.kill()

    @contextmanager
    def _redis_away(self, _: random.Random) -> Iterator[None]:
        self._redis.kill()
        try:
            yield
        finally:
            self._redis.start()

    @contextmanager
    def _redis_emptied(self, chance: random.Random) -> Iterator[None]:
        with self._redis_away(chance):
            shutil.rmtree(self._redis_folder)
            self._redis_folder.mkdir()
            yield

    @contextmanager
    def _postgres_restarted(self, _: random.Random) -> Iterator[None]:
        self._postgres.stop()
        try:
            yield
        finally:
            self._postgres.start()

    @contextmanager
    def _postgres_killed(self, _: random.Random) -> Iterator[None]:
        family = self._postgres_family()
        kill(family)
        psutil.wait_procs(family, timeout=20)
        try:
            yield
        finally:
            self._postgres.start()

    @contextmanager
    def _stop_child(self, chance: random.Random) -> Iterator[None]:
        with stopped(chance.choice(self._workers).children()[-1:]):
            yield

    @contextmanager
    def _stop_worker(self, chance: random.Random) -> Iterator[None]:
        with stopped(chance.choice(self._workers).family()):
            yield

    @contextmanager
    def _clock_jumps(self, chance: random.Random) -> Iterator[None]:
        self._clock.set(chance.choice(_CLOCK_STEPS_S))
        yield

    def _redis_process(self) -> psutil.Process:
        assert self._redis._process is not None
        return psutil.Process(self._redis._process.pid)

    def _postgres_family(self) -> list[psutil.Process]:
        first = psutil.Process(self._postgres._process.pid)
        return [first, *first.children(recursive=True)]


def _once(act: Callable[[], None]) -> Callable[[random.Random], Happening]:
    """A fault that is over as soon as it has begun."""

    @contextmanager
    def happens(_: random.Random) -> Iterator[None]:
        act()
        yield

    return happens


def _doing(proxy: Proxy, mode: Mode) -> Callable[[random.Random], Happening]:
    return lambda _: proxy.doing(mode)


def _both(one: Proxy, other: Proxy, mode: Mode) -> Callable[[random.Random], Happening]:
    @contextmanager
    def happens(_: random.Random) -> Iterator[None]:
        with one.doing(mode), other.doing(mode):
            yield

    return happens
