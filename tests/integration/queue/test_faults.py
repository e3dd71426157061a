"""Each of the cheapest faults once, on many machines; `python -m tests.faults` has all of them."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest

from tests.faults.many_machines import ManyMachines
from tests.faults.rounds import Run
from tests.faults.table import tracebacks
from tests.waiting import HANG_S

pytestmark = pytest.mark.slow


def test_no_pack_is_lost_half_made_stuck_or_made_twice(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    place = ManyMachines(tmp_path_factory.mktemp("many"), seed=14).place
    try:
        cheap = [fault for fault in place.faults if fault.cheap]
        # What is stuck for good is found; how long the rest takes is the machine's.
        run = Run(replace(place, faults=cheap), seed=14, stuck_s=HANG_S)
        run.begin()
        run.go_on(len(cheap), time.monotonic() + 600, lambda _: None)
        run.finish()
    finally:
        logs = place.logs()
        place.close()
    assert run.broken == []
    assert len(run.rounds) == len(cheap) == 5
    assert sum(one.packs for one in run.rounds) == 25
    assert not [error for error in tracebacks(logs) if error.startswith("worker.errors.")]
