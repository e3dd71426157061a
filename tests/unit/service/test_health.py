"""Ready means that packs are made, not that none waits."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from service.app import create_app
from service.health import LONGEST_WAIT_S
from service.runtime.context import EXTENSION
from worker.settings import Settings
from worker.store.ledger import Ledger, NewPack, ReferenceRow


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def ledger(app: Flask) -> Iterator[Ledger]:
    """The same ledger with a clock that is late: two packs have waited for too long."""
    settings: Settings = app.extensions[EXTENSION].settings
    late = Ledger.open(settings.ledger_url, clock=lambda: time.time() - 2 * LONGEST_WAIT_S)
    photo = late.add_reference(
        ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    )
    for _ in range(2):
        late.enqueue(NewPack(reference_id=photo.id, spec={}))
    yield late
    late.close()


def checks(app: Flask) -> tuple[int, str]:
    answer = app.test_client().get("/readyz")
    return answer.status_code, answer.get_json()["checks"]["worker"]


def test_a_pack_that_waits_for_nobody_is_told_of(app: Flask, ledger: Ledger) -> None:
    assert checks(app) == (503, "waits-too-long")
    # This one's worker died as long ago.
    assert ledger.claim("dead")
    assert checks(app) == (503, "waits-too-long")


def test_the_end_of_a_long_queue_is_no_fault(app: Flask, ledger: Ledger) -> None:
    claim = app.extensions[EXTENSION].ledger.claim("alive")
    assert checks(app) == (200, "ok")
    assert app.extensions[EXTENSION].ledger.fail(claim, "too-slow", "Because.")
    assert ledger.gauges().packs["queued"] == 1
    assert checks(app) == (200, "ok")
