"""Who does not fit is told to come again, and places are given back."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.http.errors import Busy
from service.runtime.concurrency import Gate


def test_a_full_gate_says_when_to_come_again() -> None:
    gate = Gate(1, wait_s=0.01, detail="Full.", retry_after_s=9)
    with gate.place():
        with pytest.raises(Busy) as caught:
            gate.enter()
        assert caught.value.retry_after_s == 9
    gate.enter()


def test_a_place_comes_free_when_its_work_fails() -> None:
    gate = Gate(1, wait_s=0, detail="Full.")
    with pytest.raises(ZeroDivisionError), gate.place():
        raise ZeroDivisionError
    gate.enter()


def test_a_gate_without_places_lets_nobody_in() -> None:
    with pytest.raises(Busy):
        Gate(0, wait_s=0, detail="None.").enter()


def test_so_many_wait_and_the_rest_is_sent_away_at_once() -> None:
    gate = Gate(1, wait_s=1e6, detail="Full.", most_waiting=1)
    with ThreadPoolExecutor(1) as other:
        with gate.place():
            waits = other.submit(gate.enter)
            while gate._room._value:
                time.sleep(0.01)
            with pytest.raises(Busy):
                gate.enter()
            assert not waits.done()
        waits.result()
    gate.leave()
    gate.enter()
