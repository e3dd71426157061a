"""The worker process before it begins to make packs."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from worker.jobs import process


@pytest.fixture(autouse=True)
def _interval() -> Iterator[None]:
    """The interval of the tests' own process."""
    before = sys.getswitchinterval()
    yield
    sys.setswitchinterval(before)


def test_threads_of_a_pack_seldom_wait_for_the_lock(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[float] = []

    def run(*_: object, **__: object) -> int:
        seen.append(sys.getswitchinterval())
        return 0

    monkeypatch.setattr(process, "run", run)
    assert process.main([]) == 0
    assert seen == [pytest.approx(process.SWITCH_S)]
    assert process.SWITCH_S < 0.005
