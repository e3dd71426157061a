"""The simulated queue beside what is known of queues, and beside the ledger's own order."""

from __future__ import annotations

import random
import statistics
from pathlib import Path

import pytest

from tests.bench.sizing.queue_model import Asked, erlang_c_wait_s, simulate
from tests.bench.sizing.report import HEAD, STUDENTS, row
from tests.clock import Clock
from tests.migrated import migrated
from tests.unit.store.ledger.conftest import Asker
from worker.store.ledger import Ledger, PackResult


@pytest.mark.parametrize(("workers", "load"), [(1, 0.5), (4, 0.6)])
def test_the_mean_wait_is_that_of_the_closed_form(workers: int, load: float) -> None:
    """M/M/c, Erlang C: Gross and Harris, "Fundamentals of Queueing Theory", section 2.3."""
    chance, now, asked = random.Random(1), 0.0, list[Asked]()  # noqa: S311 -- Nothing secret.
    for payer in range(30_000):
        now += chance.expovariate(load * workers / 2.0)
        asked.append(Asked(now, payer, chance.expovariate(1 / 2.0)))
    mean = statistics.fmean(one.waited_s for one in simulate(asked, workers))
    # Waits of packs that follow each other are alike: this is about four standard errors. One
    # worker more or less changes the mean by far more.
    assert mean == pytest.approx(erlang_c_wait_s(load * workers / 2.0, 2.0, workers), rel=0.12)


def test_the_closed_form_for_one_worker_is_the_well_known_one() -> None:
    """M/M/1: the mean wait is load / (1 - load) making times (the same, section 2.2)."""
    assert erlang_c_wait_s(0.3, 2.0, 1) == pytest.approx(0.6 / 0.4 * 2.0)


def test_packs_come_in_the_order_of_the_ledger(tmp_path: Path) -> None:
    """Two people ask for many and others for one, some of them while the third is made."""
    clock = Clock()
    ledger = migrated(Ledger.open(f"sqlite:///{tmp_path / 'ledger.db'}", clock=clock))
    askers = [Asker(ledger, ledger.people.add_tutor(f"Tutor {n}")[0].id) for n in range(5)]
    payers = dict[str, int]()

    def ask(people: list[int]) -> None:
        for one in people:
            clock.now += 0.001
            payers[askers[one].ask().id] = one

    first, later, order = [0] * 5 + [1] * 4 + [2], [3, 0, 4, 4, 1], list[int]()
    ask(first)
    while (claim := ledger.claim("w/1")) is not None:
        order.append(payers[claim.pack.id])
        ask(later if len(order) == 3 else [])
        made = PackResult(number="1", files_key=claim.files_key, total=1)
        assert ledger.finish(claim, made)
    asked = [Asked(0.0, one, 1.0) for one in first] + [Asked(2.5, one, 1.0) for one in later]
    assert [one.asked.payer for one in simulate(asked, 1)] == order
    ledger.close()


def test_the_page_on_sizing_has_what_the_command_prints() -> None:
    page = (Path(__file__).parents[2] / "deploy/SIZING.md").read_text(encoding="utf-8")
    for line in (*HEAD, *map(row, STUDENTS[:2])):
        assert line in page
