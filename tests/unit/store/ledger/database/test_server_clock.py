"""The server's time on machines whose own clocks are wrong, are set, or stood still."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from worker.store.ledger.database import server_clock
from worker.store.ledger.database.server_clock import MEASURED_EVERY_S, ServerClock


class World:
    """A server and a machine, whose clocks the test turns; they are an hour apart."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.server, self.wall, self.monotonic, self.asked = 10_000.0, 13_600.0, 5.0, 0
        own = SimpleNamespace(time=lambda: self.wall, monotonic=lambda: self.monotonic)
        monkeypatch.setattr(server_clock, "time", own)
        self.clock = ServerClock(self.ask)

    def ask(self) -> float:
        self.asked += 1
        return self.server

    def passes(self, seconds: float) -> None:
        self.server += seconds
        self.wall += seconds
        self.monotonic += seconds


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    return World(monkeypatch)


def test_it_is_the_servers_time_without_asking_each_time(world: World) -> None:
    assert world.clock() == world.server
    world.passes(MEASURED_EVERY_S / 2)
    assert world.clock() == world.server
    assert world.asked == 1


def test_it_is_asked_again_after_a_while(world: World) -> None:
    world.clock()
    world.passes(MEASURED_EVERY_S + 1)
    world.server += 3
    assert world.clock() == world.server
    assert world.asked == 2


def test_a_clock_that_is_set_changes_nothing(world: World) -> None:
    world.clock()
    world.wall -= 86_400
    assert world.clock() == world.server


def test_a_machine_that_slept_asks_at_once(world: World) -> None:
    """CLOCK_MONOTONIC does not count a sleep on Linux (clock_gettime(2)); the server does."""
    world.clock()
    world.server += 3600
    world.wall += 3600
    assert world.clock() == world.server
