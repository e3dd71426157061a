"""A class comes at once, a flood does not."""

from __future__ import annotations

import pytest

from service.http.errors import TooManySessions
from service.runtime.limits.session_rate import BURST, BURST_EACH, RATE_PER_S, SessionRate
from service.runtime.limits.tallies import MemoryTallies
from tests.clock import Clock


def test_a_site_starts_many_at_once_and_then_as_many_as_time_allows() -> None:
    clock = Clock()
    rate = SessionRate(MemoryTallies(clock))
    for _ in range(BURST):
        rate.take("sit_a")
    with pytest.raises(TooManySessions) as caught:
        rate.take("sit_a")
    assert caught.value.retry_after_s == 1
    # Another site has its own.
    rate.take("sit_b")
    clock.now += 10
    for _ in range(round(10 * RATE_PER_S)):
        rate.take("sit_a")
    with pytest.raises(TooManySessions):
        rate.take("sit_a")


def test_time_without_requests_fills_it_no_further() -> None:
    clock = Clock()
    rate = SessionRate(MemoryTallies(clock))
    rate.take("sit_a")
    clock.now += 1e6
    for _ in range(BURST):
        rate.take("sit_a")
    with pytest.raises(TooManySessions):
        rate.take("sit_a")


def test_one_student_does_not_empty_it_for_all() -> None:
    clock = Clock()
    rate = SessionRate(MemoryTallies(clock))
    for _ in range(BURST_EACH):
        rate.take_for("stu_a", "sit_a")
    for _ in range(BURST):
        with pytest.raises(TooManySessions) as caught:
            rate.take_for("stu_a", "sit_a")
        assert caught.value.retry_after_s == 60
    rate.take_for("stu_b", "sit_a")
    # What was refused to the student was not taken from the site.
    for _ in range(BURST - BURST_EACH - 1):
        rate.take("sit_a")
    with pytest.raises(TooManySessions, match="This site"):
        rate.take_for("stu_c", "sit_a")
    clock.now += 60
    rate.take_for("stu_a", "sit_a")
