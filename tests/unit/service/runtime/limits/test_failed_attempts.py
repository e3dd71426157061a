"""Wrong codes: a class behind one address still joins, and forty bits stay unguessable."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from service.http.errors import TooManyTries
from service.runtime.limits import failed_attempts as module
from service.runtime.limits.failed_attempts import (
    BURST,
    FEW,
    FREE,
    LONGEST_S,
    RATE_PER_S,
    REMEMBERED_S,
    FailedAttempts,
)
from service.runtime.limits.tallies.protocol import MOST, MemoryTallies
from tests.clock import Clock
from worker.spec.short_codes import CODE_LETTERS, LETTERS

HERE, THERE = "192.0.2.1", "192.0.2.2"
YEAR_S = 365.25 * 24 * 3600


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def tries(clock: Clock) -> FailedAttempts:
    return FailedAttempts(MemoryTallies(clock))


def codes() -> Iterator[str]:
    """Codes that no other has."""
    return (f"{number:08}" for number in range(10**8))


def guess(tries: FailedAttempts, code: str, device: str | None = None, address: str = HERE) -> str:
    """A wrong code is tried; returns the device's mark."""
    tries.check(code, device, address)
    return tries.count(code, device, address)[0]


def waits(tries: FailedAttempts, code: str, device: str | None, address: str = HERE) -> int:
    """How long somebody has to wait; 0: not at all."""
    try:
        tries.check(code, device, address)
    except TooManyTries as error:
        return error.retry_after_s
    return 0


def test_a_device_that_guesses_waits_longer_and_longer(tries: FailedAttempts, clock: Clock) -> None:
    device, waited = None, []
    for code, _ in zip(codes(), range(14), strict=False):
        while (seconds := waits(tries, code, device)) > 0:
            waited.append(seconds)
            clock.now += seconds
        device = guess(tries, code, device)
    assert waited == [1, 2, 4, 8, 16, 32, 64, 64]
    assert LONGEST_S == 64
    # The right code has to wait too; nobody else does.
    assert waits(tries, "RIGHT000", device) == 64
    assert waits(tries, "RIGHT000", None) == 0
    clock.now += REMEMBERED_S
    assert waits(tries, "RIGHT000", device) == 0


def test_a_class_behind_one_address_mistypes_and_still_joins(tries: FailedAttempts) -> None:
    coming = codes()
    for _ in range(30):
        device = None
        for _ in range(FREE):
            device = guess(tries, next(coming), device)
        assert waits(tries, "RIGHT000", device) == 0
    assert waits(tries, "RIGHT000", None) == 0


def test_the_same_wrong_code_counts_once(tries: FailedAttempts) -> None:
    """Thirty phones read the same board, and each asks again and again."""
    devices = [guess(tries, "0000-0000") for _ in range(30)]
    for device in devices:
        for _ in range(20):
            assert guess(tries, "oooo oooo", device) == device
        assert waits(tries, "RIGHT000", device) == 0


def test_what_can_be_no_code_is_no_guess(tries: FailedAttempts) -> None:
    device = guess(tries, "hello")
    for number in range(50):
        guess(tries, f"hello {number}", device)
    assert waits(tries, "RIGHT000", device) == 0


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> FailedAttempts:
    """The same with a bound that is soon reached."""
    monkeypatch.setattr(module, "BURST", 2 * FEW)
    return FailedAttempts(MemoryTallies(clock))


def test_a_flood_from_one_place_is_bounded_and_stops_nobody_elsewhere(
    small: FailedAttempts, clock: Clock
) -> None:
    coming, looked_up = codes(), 0
    for code in coming:
        if waits(small, code, None):
            break
        guess(small, code)
        looked_up += 1
    # Few from the half for everybody who has few, and then the other half.
    assert looked_up == FEW + 2 * FEW
    assert waits(small, "RIGHT000", None) == 1
    assert waits(small, "RIGHT000", None, THERE) == 0
    for second in range(10):
        clock.now += 1 / RATE_PER_S
        guess(small, next(coming))
        assert waits(small, "RIGHT000", None) > 0, second


def test_from_however_many_places_no_more_is_looked_up(small: FailedAttempts, clock: Clock) -> None:
    looked_up, seconds = 0, 100
    for number, code in zip(range(6000), codes(), strict=False):
        clock.now = seconds * number / 6000
        address = f"2001:db8:{number % 4000:x}::1"
        if not waits(small, code, None, address):
            guess(small, code, None, address)
            looked_up += 1
    assert looked_up <= 2 * (2 * FEW + RATE_PER_S * seconds)


def test_the_addresses_of_one_network_are_one_place(small: FailedAttempts) -> None:
    coming, looked_up = codes(), 0
    for number, code in enumerate(coming):
        address = f"2001:db8::{number:x}"
        if waits(small, code, None, address):
            break
        guess(small, code, None, address)
        looked_up += 1
    assert looked_up == 3 * FEW
    assert waits(small, "RIGHT000", None, "2001:db8:1::1") == 0


def test_forty_bits_stay_unguessable() -> None:
    """The sum of the module's docstring."""
    all_codes = len(LETTERS) ** CODE_LETTERS
    assert all_codes == 2**40

    def chance(classes: int, seconds: float) -> float:
        return classes * 2 * (BURST + RATE_PER_S * seconds) / all_codes

    assert chance(100, YEAR_S) == pytest.approx(0.0058, abs=0.0001)
    assert chance(1, 3600) == pytest.approx(1.3e-7, rel=0.05)


def test_nothing_grows_without_end(tries: FailedAttempts) -> None:
    for code, number in zip(codes(), range(MOST + 50), strict=False):
        guess(tries, code, None, f"2001:db8:{number >> 8:x}:{number & 255:x}::1")
    tallies = tries._tallies
    assert isinstance(tallies, MemoryTallies)
    assert {len(tallies.kinds[kind]) for kind in ("device", "code", "network")} == {MOST}
