"""Ten minutes of mixed use: whether memory, open files and the ledger stay as they are.

A class works as classes do: photos come and go, plans are asked for without end, packs are asked
for, followed, taken and deleted, also in the middle of their making, lists and the board are
looked at, and some requests are wrong. All of it is deleted again, so that what is left grows
with nothing.
"""

from __future__ import annotations

import random
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, field

import psutil
import sqlalchemy

from tests.bench.crowds.school import SPEC, School, opened, sent, small_photo

MINUTES, EVERY_S, CLIENTS = 10.0, 30.0, 6
#: Before the first figures every program has done all of its work once.
_WARM_S = 60.0
_STYLES = ("grey", "outline", "values")


@dataclass
class _Client:
    """One student, who does this and that."""

    school: School
    key: str
    number: int
    answers: Counter[str] = field(default_factory=Counter)

    def run(self, until: float) -> None:
        chance = random.Random(self.number)  # noqa: S311 -- No secret.
        while time.monotonic() < until:
            reference = sent(self.school, small_photo(), self.key)
            for _ in range(chance.randrange(2, 6)):
                self._round(chance, reference)
            self._told("DELETE", f"/v1/references/{reference}")

    def _round(self, chance: random.Random, reference: str) -> None:
        border = chance.randrange(0, 40)
        spec = {"support": {**SPEC["support"], "border_mm": border}}
        for _ in range(4):
            self._told("POST", "/v1/plans", json={"reference_id": reference, "spec": spec})
        self._told("GET", "/v1/me/packs")
        self._told("POST", "/v1/plans", json={"reference_id": reference, "spec": {"support": {}}})
        tone = {"tone": {"style": chance.choice(_STYLES)}}
        pack = self.school.ask(self.key, reference, **tone)
        if chance.random() < 0.7:
            self.answers[self.school.await_end(pack["id"], self.key)] += 1
            self._told("GET", f"/v1/packs/{pack['id']}/pack.pdf")
            self._told("GET", f"/v1/packs/{pack['id']}/map.png")
        self._told("DELETE", f"/v1/packs/{pack['id']}")

    def _told(self, method: str, path: str, **more: object) -> None:
        self.answers[str(self.school.call(method, path, self.key, **more).status_code)] += 1


def report(arguments: Sequence[str] = ()) -> None:
    """Use it for some minutes, and print figures every half."""
    minutes = float(arguments[0]) if arguments else MINUTES
    with opened() as school:
        until = time.monotonic() + _WARM_S + 60 * minutes
        clients = [_Client(school, key, at) for at, key in enumerate(school.keys[1 : CLIENTS + 1])]
        crowd = [threading.Thread(target=one.run, args=(until,)) for one in clients]
        for one in crowd:
            one.start()
        time.sleep(_WARM_S)
        print(f"  after s  {_HEAD}")
        began, looks = time.monotonic(), []
        while time.monotonic() < until:
            looks.append(_looked(school))
            print(f"  {time.monotonic() - began:7.0f}  {looks[-1]}", flush=True)
            time.sleep(EVERY_S)
        for one in crowd:
            one.join()
        total = sum((one.answers for one in clients), Counter())
        print(f"  answers and ends: {dict(sorted(total.items()))}")


_HEAD = "web MiB  workers MiB  web files  workers files  ledger MiB  rows"


def _looked(school: School) -> str:
    groups = school.processes()
    web = groups["web"]
    workers = [each for name, some in groups.items() if name.startswith("worker") for each in some]
    megabytes, rows = _ledger(school)
    return (
        f"{_sum(web, _memory) / 2**20:7.0f}  {_sum(workers, _memory) / 2**20:11.0f}"
        f"  {_sum(web, _files):9.0f}  {_sum(workers, _files):13.0f}"
        f"  {megabytes:10.1f}  {rows}"
    )


def _sum(processes: list[psutil.Process], value: Callable[[psutil.Process], float]) -> float:
    total = 0.0
    for one in processes:
        with suppress(psutil.NoSuchProcess):
            total += value(one)
    return total


def _memory(process: psutil.Process) -> float:
    """Bytes of its own, with its part of what is shared (PSS, proc(5))."""
    return float(process.memory_full_info().pss)


def _files(process: psutil.Process) -> float:
    return float(process.num_fds())


def _ledger(school: School) -> tuple[float, int]:
    """Its size in MiB on disk, and how many rows its tables have."""
    url = school.arrangement.parts["web"].environment["RICALCO_DATABASE_URL"]
    engine = sqlalchemy.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with closing(engine.raw_connection()) as connection:
        cursor = connection.cursor()
        cursor.execute("SELECT pg_database_size(current_database())")
        size = cursor.fetchone()[0]
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        rows = 0
        for (name,) in cursor.fetchall():
            cursor.execute(f'SELECT count(*) FROM "{name}"')  # noqa: S608 -- Our own table.
            rows += cursor.fetchone()[0]
    engine.dispose()
    return size / 2**20, rows
