"""Whoever asks within a few seconds gets the same answer, however many ask."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.runtime.caches.recent_answer import RecentAnswer
from tests.clock import Clock
from worker.errors import StorageUnavailable


def test_an_answer_is_kept_for_its_time_and_no_longer() -> None:
    clock = Clock()
    answer = RecentAnswer[float](clock)

    def told(at_s: float) -> float:
        clock.now = at_s
        return answer.get(lambda: at_s, kept_s=3.0)

    assert [told(100.0), told(102.9), told(103.0), told(105.9)] == [100.0, 100.0, 103.0, 103.0]
    assert told(1000.0) == 1000.0


def test_many_who_ask_at_once_cause_one_look() -> None:
    answer, looks, begun, go_on = RecentAnswer[int](), [], threading.Event(), threading.Event()

    def look() -> int:
        looks.append(1)
        begun.set()
        assert go_on.wait(timeout=60)
        return 7

    with ThreadPoolExecutor(8) as pool:
        asked = [pool.submit(answer.get, look, 60.0) for _ in range(8)]
        assert begun.wait(timeout=60)
        go_on.set()
        assert [one.result() for one in asked] == [7] * 8
    assert len(looks) == 1


def test_an_error_is_not_kept_and_holds_up_nobody() -> None:
    answer = RecentAnswer[int]()

    def broken() -> int:
        raise StorageUnavailable("The bucket is away.")

    with pytest.raises(StorageUnavailable):
        answer.get(broken, 60.0)
    assert answer.get(lambda: 5, 60.0) == 5
