"""The pool of threads, which other systems get: no signals, no limits, the same promises."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from tests.waiting import HANG_S, wait_until
from worker.settings import Settings

StartWorker = Callable[..., Any]


def test_packs_are_made_and_cancelled(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    worker = start_worker(settings, "--threads", "--watch-parent", fake=True)
    assert len(worker.family()) == 1
    (long,) = desk.ask(act="wait")
    desk.ask(6, pieces=3)
    wait_until(lambda: desk.row(long).done == 2)
    desk.ledger.cancel_or_delete(long, "local")
    desk.wait_ended()
    assert (desk.row(long).state, desk.count("ready")) == ("cancelled", 6)
    worker.process.stdin.close()
    assert worker.process.wait(HANG_S) == 0
    desk.check()


def test_a_thread_that_hangs_ends_the_worker_and_the_next_one_goes_on(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    limits = replace(settings, workers=1, soft_limit_seconds=1, hard_limit_seconds=2)
    worker = start_worker(limits, "--threads", fake=True)
    (hung,) = desk.ask(act="hang")
    (good,) = desk.ask()
    assert worker.process.wait(HANG_S) == 75  # EX_TEMPFAIL of sysexits.h: start it again.
    assert desk.row(hung).error_code == "too-slow"
    start_worker(limits, "--threads", fake=True)
    desk.wait_ended()
    assert desk.row(good).state == "ready"
    desk.check()
