"""Who does not fit is told to come again, and places are given back."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.http.errors import Busy
from service.runtime.limits.concurrency import ConcurrencyLimit


def test_a_full_gate_says_when_to_come_again() -> None:
    limit = ConcurrencyLimit(1, wait_s=0.01, detail="Full.", retry_after_s=9)
    with limit.slot():
        with pytest.raises(Busy) as caught:
            limit.acquire()
        assert caught.value.retry_after_s == 9
    limit.acquire()


def test_a_place_comes_free_when_its_work_fails() -> None:
    limit = ConcurrencyLimit(1, wait_s=0, detail="Full.")
    with pytest.raises(ZeroDivisionError), limit.slot():
        raise ZeroDivisionError
    limit.acquire()


def test_a_gate_without_places_lets_nobody_in() -> None:
    with pytest.raises(Busy):
        ConcurrencyLimit(0, wait_s=0, detail="None.").acquire()


def test_so_many_wait_and_the_rest_is_sent_away_at_once() -> None:
    limit = ConcurrencyLimit(1, wait_s=1e6, detail="Full.", max_waiting=1)
    with ThreadPoolExecutor(1) as other:
        with limit.slot():
            waits = other.submit(limit.acquire)
            while limit._waiting_room._value:
                time.sleep(0.01)
            with pytest.raises(Busy):
                limit.acquire()
            assert not waits.done()
        waits.result()
    limit.release()
    limit.acquire()
