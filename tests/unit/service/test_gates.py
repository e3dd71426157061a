"""Who does not fit is told to come again, and places are given back."""

from __future__ import annotations

import pytest

from service.errors import Busy
from service.gates import Gate


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
