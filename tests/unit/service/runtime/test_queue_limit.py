"""A full queue: who is refused, who is not, and that nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from service.app import create_app
from service.http.errors import QueueFull
from service.runtime import queue_limit
from service.runtime.context import EXTENSION
from worker.settings import Settings
from worker.store.ledger import Ledger, NewPack, ReferenceRow

LIMIT = 3


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path, max_queued=LIMIT))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def ledger(app: Flask) -> Ledger:
    opened: Ledger = app.extensions[EXTENSION].ledger
    return opened


def fill(ledger: Ledger, owner_id: str, count: int) -> None:
    """Have packs of this person wait."""
    row = ReferenceRow(owner_id=owner_id, width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    photo = ledger.add_reference(row).id
    for _ in range(count):
        ledger.enqueue(NewPack(owner_id=owner_id, reference_id=photo, spec={}))


def refused(ledger: Ledger, payer_id: str, *, one: bool = True) -> bool:
    return ledger.refuses_packs(LIMIT, 0, payer_id, one=one)


def test_whoever_has_none_is_let_in_beyond_the_limit(ledger: Ledger) -> None:
    fill(ledger, "local", LIMIT - 1)
    assert not refused(ledger, "local")
    assert not refused(ledger, "local", one=False)
    fill(ledger, "local", 1)
    assert refused(ledger, "local")
    other = "stu_0000000000000000000000"
    assert not refused(ledger, other)
    assert refused(ledger, other, one=False)
    fill(ledger, "local", LIMIT)
    assert refused(ledger, other)


def test_a_pack_that_is_made_counts_for_its_person_and_not_for_the_queue(ledger: Ledger) -> None:
    fill(ledger, "local", LIMIT)
    assert ledger.claim("worker")
    assert not refused(ledger, "local")


def test_the_limit_follows_the_workers(ledger: Ledger) -> None:
    assert ledger.queue_limit(0, 1) == 1000
    ledger.workers.note("one", 4, "1")
    ledger.workers.note("other", 8, "1")
    assert ledger.queue_limit(0, 0) == 6000
    ledger.workers.gone("other")
    assert ledger.queue_limit(0, 0) == 2000
    assert ledger.queue_limit(7, 4) == 7


def test_a_refusal_says_when_to_come_again_and_keeps_nothing(app: Flask, ledger: Ledger) -> None:
    fill(ledger, "local", LIMIT)
    photo = ledger.references_of("0" * 64, "local")[0].id
    spec = {"support": {"width_mm": 300, "height_mm": 200}}
    sent = {"reference_id": photo, "spec": spec}
    key = {"Idempotency-Key": "one"}
    answer = app.test_client().post("/v1/packs", json=sent, headers=key)
    assert (answer.status_code, answer.get_json()["code"]) == (503, "queue-full")
    least, most = queue_limit.RETRY_S, queue_limit.RETRY_S + queue_limit.SPREAD_S
    assert least <= int(answer.headers["Retry-After"]) <= most
    assert ledger.gauges().packs["queued"] == LIMIT
    # The key is free: sent again, it is refused for the same reason and not for being held.
    again = app.test_client().post("/v1/packs", json=sent, headers=key)
    assert again.get_json()["code"] == QueueFull.code
