"""How SQLite carries out what is asked often: no table that grows is read from end to end."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.bench.at_size.filling import STUDENTS_PER_CLASS, District, Size, fill, key_of
from tests.bench.at_size.measures import Bench
from tests.migrated import migrated
from worker.store.ledger import Ledger, NewPack
from worker.store.ledger.keyset import Page
from worker.store.ledger.tables import METADATA

#: Tables that grow with the people and what they make.
GROWING = ("access_keys", "answer_subjects", "batch_items", "batches", "idempotency_keys")
GROWING += ("owners", "packs", "photos")
Call = Callable[[Ledger, District], object]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    file: Path = tmp_path_factory.mktemp("plans") / "ledger.db"
    ledger = migrated(Ledger.open(f"sqlite:///{file}"))
    district = fill(ledger._database.engine, Size(packs=400, people=200, queued=40))
    yield Bench(ledger, district, dict.fromkeys(GROWING, 10**6))
    ledger.close()


def ask(ledger: Ledger, at: District) -> object:
    """A student asks for a pack of their own photo."""
    return ledger.enqueue(NewPack(owner_id=at.student(3), reference_id=at.photo(3), spec={}))


PAGE = Page(limit=2)
CALLS: dict[str, Call] = {
    "key": lambda ledger, at: ledger.people.opened_by(key_of(at.student(1))),
    "sees a pack": lambda ledger, at: ledger.people.sees(at.tutor(0), "pack_id", at.pack(1)),
    "sees a photo": lambda ledger, at: ledger.people.sees(at.tutor(0), "reference_id", at.photo(1)),
    "sees a student": lambda ledger, at: ledger.people.sees(
        at.tutor(0), "student_id", at.student(1)
    ),
    "pack": lambda ledger, at: ledger.pack(at.pack(1), at.tutor(0)),
    "progress": lambda ledger, at: ledger.progress({at.tutor(0): [at.pack(1), at.pack(2)]}),
    "shelf": lambda ledger, at: ledger.holdings.packs_of(at.student(1), PAGE),
    "its next page": lambda ledger, at: ledger.holdings.packs_of(
        at.student(1), Page(limit=2, after=(9e9, "p"))
    ),
    "board": lambda ledger, at: ledger.holdings.of_class(at.class_(0)),
    "roster": lambda ledger, at: ledger.students.of_class(at.class_(0)),
    "number": lambda ledger, at: ledger.holdings.numbered(at.class_(0), "0000"),
    "batches": lambda ledger, at: ledger.batches.of_class(at.class_(0), at.tutor(0), PAGE),
    "classes": lambda ledger, at: ledger.classes.of_tutor(at.tutor(0)),
    "ready": lambda ledger, _: ledger.stalled_s(),
    "waiting": lambda ledger, _: ledger.waiting(most=4),
    "leases": lambda ledger, _: ledger.lapsed_leases() | ledger.lease_holders(),
    "files": lambda ledger, _: ledger.made_after("pck_1", 10),
    "endings": lambda ledger, _: ledger.forget_expired_keys(),
    "enqueue": ask,
    "claim": lambda ledger, _: ledger.claim("w/1"),
    "retention": lambda ledger, _: ledger.expire(),
    "a student goes": lambda ledger, at: ledger.students.delete(
        at.student(2 * STUDENTS_PER_CLASS + 1), at.tutor(2)
    ),
    "a class goes": lambda ledger, at: ledger.classes.delete(at.class_(3), at.tutor(3)),
    "a tutor goes": lambda ledger, at: ledger.people.erase(at.tutor(4)),
}


@pytest.mark.parametrize("name", CALLS)
def test_no_call_reads_a_growing_table_whole(bench: Bench, name: str) -> None:
    found = bench.measure(name, 1, lambda _: CALLS[name](bench.ledger, bench.district))
    assert found.whole == []


def test_the_bench_would_see_it(bench: Bench) -> None:
    """Counts by state do read an index whole, and are for metrics alone."""
    found = bench.measure("gauges", 1, lambda _: bench.ledger.gauges())
    assert "packs (index)" in found.whole


def test_a_batch_list_costs_the_same_statements_however_long(bench: Bench) -> None:
    ledger, at = bench.ledger, bench.district
    found = [ledger.batches.of_class(at.class_(0), at.tutor(0), Page(limit=n)) for n in (1, 2)]
    # One more is read, which tells that there are more.
    assert [len(one) for one in found] == [2, 3]
    few = bench.measure("", 1, lambda _: ledger.batches.get(at.batch(0), at.tutor(0)))
    many = bench.measure("", 1, lambda _: ledger.batches.of_class(at.class_(0), at.tutor(0)))
    # The class is checked besides.
    assert many.statements == few.statements + 1


@pytest.mark.parametrize("table", METADATA.sorted_tables, ids=lambda table: table.name)
def test_what_points_at_another_row_is_found_when_that_is_deleted(table: sa.Table) -> None:
    """Neither database makes such an index; without it each deletion reads the whole table."""
    starts = [tuple(table.primary_key.columns.keys())]
    starts += [tuple(one.columns.keys()) for one in table.indexes]
    for key in table.foreign_key_constraints:
        names = tuple(key.column_keys)
        assert any(start[: len(names)] == names for start in starts), names
