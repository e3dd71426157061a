"""The worker process before it begins to make packs."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator

import pytest

from worker.jobs import process


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    """The tests' own process is as it was."""
    before = sys.getswitchinterval()
    yield
    sys.setswitchinterval(before)
    gc.unfreeze()


def test_threads_of_a_pack_seldom_wait_for_the_lock(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[float] = []

    def run(*_: object, **__: object) -> int:
        seen.append(sys.getswitchinterval())
        return 0

    monkeypatch.setattr(process, "run", run)
    assert process.main([]) == 0
    assert seen == [pytest.approx(process.SWITCH_S)]
    assert process.SWITCH_S < 0.005


def test_what_is_loaded_is_not_looked_through_again(monkeypatch: pytest.MonkeyPatch) -> None:
    frozen: list[int] = []

    def run(*_: object, **__: object) -> int:
        frozen.append(gc.get_freeze_count())
        return 0

    monkeypatch.setattr(process, "run", run)
    assert process.main([]) == 0
    assert frozen[0] > 10_000
