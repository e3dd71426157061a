"""The calls that are measured, in an order in which what deletes comes last."""

from __future__ import annotations

import multiprocessing
import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from tests.bench.at_size.filling import STUDENTS_PER_CLASS, District, key_of
from tests.bench.at_size.plans import Statements, whole_tables
from worker.store.ledger import Bounds, Ledger, NewPack, PackResult
from worker.store.ledger.keyset import Page

CLAIMS = 200
_SPEC = {"support": {"width_mm": 600, "height_mm": 400}}


@dataclass(frozen=True)
class Measure:
    """One line of the table; times in seconds."""

    name: str
    times: list[float]
    statements: float
    whole: list[str]

    def line(self) -> str:
        """The line as printed, in ms."""
        ordered = sorted(self.times)
        late = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
        whole = ", ".join(self.whole) or "-"
        middle = statistics.median(ordered)
        return (
            f"  {self.name:44} {len(ordered):5} {1e3 * middle:10.2f} {1e3 * late:10.2f}"
            f" {self.statements:6.1f}  {whole}"
        )


HEAD = f"  {'':44} {'calls':>5} {'median ms':>10} {'95 % ms':>10} {'stmts':>6}  reads whole"


class Bench:
    """Measures calls of one ledger."""

    def __init__(self, ledger: Ledger, district: District, rows: dict[str, int]) -> None:
        self.ledger, self.district, self.rows = ledger, district, rows

    @property
    def engine(self) -> sa.Engine:
        """The ledger's engine."""
        return self.ledger._database.engine

    def measure(self, name: str, times: int, act: Callable[[int], object]) -> Measure:
        """Run a call some times, and look at the plans of what it ran."""
        statements, took = Statements(), []
        for number in range(times):
            with statements.watched(self.engine):
                start = time.perf_counter()
                act(number)
                took.append(time.perf_counter() - start)
        whole = whole_tables(self.engine, statements, self.rows)
        return Measure(name, took, statements.count / times, whole)

    def all(self) -> Iterator[Measure]:
        """Every line."""
        yield from self._reading()
        yield from self._figures()
        yield from self._queue()
        yield from self._deleting()

    def _reading(self) -> Iterator[Measure]:
        at, ledger, page = self.district, self.ledger, Page(limit=20)
        yield self.measure(
            "a key's person", 50, lambda n: ledger.people.opened_by(key_of(at.student(n * 37)))
        )
        own = 37
        yield self.measure(
            "may a student see a pack",
            50,
            lambda n: ledger.people.sees(at.student(n * own), "pack_id", at.pack(n * own)),
        )
        yield self.measure(
            "a student's pack", 50, lambda n: ledger.pack(at.pack(n * own), at.student(n * own))
        )
        yield self.measure(
            "a pack, read by the tutor",
            50,
            lambda n: ledger.pack(at.pack(n * STUDENTS_PER_CLASS), at.tutor(n)),
        )
        yield self.measure(
            "a student's shelf", 50, lambda n: ledger.holdings.packs_of(at.student(n * own), page)
        )
        yield self.measure(
            "the shelf of 20,000 packs", 10, lambda _: ledger.holdings.packs_of(at.site, page)
        )
        seen = ledger.holdings.packs_of(at.site, Page(limit=10_000))
        after = [(one.created_at, one.id) for one in seen[::1000]]
        yield self.measure(
            "  a page in its middle",
            10,
            lambda n: ledger.holdings.packs_of(
                at.site, Page(limit=20, after=after[n % len(after)])
            ),
        )
        yield self.measure(
            "a class's board: what they have", 20, lambda n: ledger.holdings.of_class(at.class_(n))
        )
        yield self.measure(
            "a class's board: who they are", 20, lambda n: ledger.students.of_class(at.class_(n))
        )
        number = ledger.pack(at.pack(0), at.student(0)).number or ""
        yield self.measure(
            "a lost sheet by its number",
            5,
            lambda _: ledger.holdings.numbered(at.class_(0), number),
        )
        yield self.measure(
            "a class's batches",
            20,
            lambda n: ledger.batches.of_class(at.class_(n), at.tutor(n), page),
        )
        followed = [at.pack(n) for n in range(8)]
        yield self.measure(
            "progress of 8 packs", 50, lambda _: ledger.progress({at.student(0): followed})
        )

    def _figures(self) -> Iterator[Measure]:
        ledger = self.ledger
        yield self.measure("figures of the queue (metrics)", 5, lambda _: ledger.gauges())
        yield self.measure("whether the service is ready", 5, lambda _: ledger.stalled_s())
        yield self.measure("how many wait", 20, lambda _: ledger.waiting())
        yield self.measure("whether 4 wait", 20, lambda _: ledger.waiting(most=4))
        yield self.measure("leases that ran out", 20, lambda _: ledger.lapsed_leases())
        yield self.measure("who holds leases", 20, lambda _: ledger.lease_holders())
        yield self.measure(
            "whether packs wait for room", 20, lambda _: ledger.note_room(there=True)
        )
        yield self.measure("forget what has ended", 5, lambda _: ledger.forget_expired_keys())
        yield self.measure("files to look for", 5, lambda _: ledger.made_after("pck_5", 500))

    def _queue(self) -> Iterator[Measure]:
        ledger = self.ledger
        yield self.measure("enqueue, a tutor for a student", 100, lambda n: self._ask(400 + n))
        yield self.measure("claim", CLAIMS, lambda _: ledger.claim("bench/1"))
        claims = [one for _ in range(50) if (one := ledger.claim("bench/1")) is not None]
        yield self.measure("heartbeat", 50, lambda n: ledger.heartbeat(claims[n]))
        made = PackResult(number="0000", files_key="packs/x/y", total=6)
        yield self.measure("finish", 50, lambda n: ledger.finish(claims[n], made))
        for claimers in (1, 8):
            yield self._claimed_side_by_side(claimers)
        yield self._newcomer()
        self._empty_queue()
        yield self.measure("enqueue when nothing waits", 1, lambda _: self._ask(800))

    def _ask(self, number: int) -> str:
        """A tutor asks for a pack of their own photo for a student of theirs."""
        at = self.district
        new = NewPack(
            owner_id=at.student(number * STUDENTS_PER_CLASS),
            reference_id=at.class_photo(number),
            spec=_SPEC,
            plan={"pad": "x" * 900},
            payer_id=at.tutor(number),
            bounds=Bounds(unfinished=500),
            total=6,
        )
        return self.ledger.enqueue(new).id

    def _empty_queue(self) -> None:
        """Mark what waits and what is made as cancelled."""
        with self.engine.begin() as connection:
            connection.exec_driver_sql(
                "UPDATE packs SET state = 'cancelled' WHERE state IN ('queued', 'making')"
            )

    def _newcomer(self) -> Measure:
        """How many packs are begun before that of somebody who asks for one now, and how long."""
        at, start = self.district, time.perf_counter()
        student = at.student(999 * STUDENTS_PER_CLASS + 3)
        photo = at.photo(999 * STUDENTS_PER_CLASS + 3)
        mine = self.ledger.enqueue(NewPack(owner_id=student, reference_id=photo, spec=_SPEC)).id
        before = 0
        while (claim := self.ledger.claim("bench/2")) is not None and claim.pack.id != mine:
            before += 1
        took = [(time.perf_counter() - start) / (before + 1)]
        return Measure(f"claims before a newcomer's: {before}", took, 0, [])

    def _claimed_side_by_side(self, claimers: int) -> Measure:
        url = self.engine.url.render_as_string(hide_password=False)
        context = multiprocessing.get_context("spawn")
        with context.Pool(claimers) as pool:
            pool.map(_warm_up, [url] * claimers)
            each = CLAIMS * 4 // claimers
            results = pool.starmap(_claim_some, [(url, each)] * claimers, chunksize=1)
        times = [one for some, _, _ in results for one in some]
        ids = [one for _, some, _ in results for one in some]
        # One clock for all processes of a machine.
        took_s = max(ends[1] for *_, ends in results) - min(ends[0] for *_, ends in results)
        assert len(ids) == len(set(ids)), "a pack was claimed twice"
        name = f"claim, {claimers} at once: {len(ids) / took_s:.0f} a second"
        return Measure(name, times, 0, [])

    def _deleting(self) -> Iterator[Measure]:
        at, ledger = self.district, self.ledger
        yield self.measure("retention: 200 packs", 10, lambda _: ledger.expire())
        yield self.measure(
            "delete a student",
            10,
            lambda n: ledger.students.delete(
                at.student((n + 20) * STUDENTS_PER_CLASS), at.tutor(n + 20)
            ),
        )
        yield self.measure(
            "delete a class of 32",
            5,
            lambda n: ledger.classes.delete(at.class_(n + 40), at.tutor(n + 40)),
        )
        yield self.measure("delete a tutor", 3, lambda n: ledger.people.erase(at.tutor(n + 60)))


def _warm_up(url: str) -> None:
    ledger = Ledger.open(url)
    ledger.waiting()
    ledger.close()


def _claim_some(url: str, count: int) -> tuple[list[float], list[str], tuple[float, float]]:
    ledger, times, ids = Ledger.open(url), list[float](), list[str]()
    ledger.lapsed_leases()
    began = time.time()
    for _ in range(count):
        start = time.perf_counter()
        claim = ledger.claim("bench/side")
        times.append(time.perf_counter() - start)
        if claim is not None:
            ids.append(claim.pack.id)
    ended = time.time()
    ledger.close()
    return times, ids, (began, ended)
