"""Leases: who holds one and lives keeps it, who died loses it, whatever the clocks do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.jobs.conftest import Time, ask, publish
from worker.jobs.clocks import AwakeClock, Moment
from worker.jobs.draining import Draining
from worker.jobs.heartbeat import MAX_PAUSE_S, TICK_S, Heartbeat, StopReason
from worker.jobs.pack_job import MadePack, PackRequest, PackWorker
from worker.jobs.upkeep.sweeper import LAPSE_GRACE_S, SWEEP_S, Sweeper, WorkerResources
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import LOCAL_OWNER, Claim, Ledger, PackRow, open_ledger


def claimed(ledger: Ledger, holder: str = "w/1") -> Claim:
    claim = ledger.claim(holder)
    assert claim is not None
    return claim


def row(ledger: Ledger, pack_id: str) -> PackRow:
    return ledger.pack(pack_id, LOCAL_OWNER)


class Machine:
    """One maker and one sweeper, whose threads the test moves on step by step."""

    def __init__(self, clocks: Time, resources: WorkerResources, claim: Claim) -> None:
        self.clocks = clocks
        self.heartbeat = Heartbeat(resources.ledger, claim, resources.settings, Draining())
        self.sweeper = Sweeper(resources, now=clocks.monotonic)
        self.resources = resources

    def run(self, seconds: float, *, ticks: bool = True, sweeps: bool = True) -> None:
        """Let time go by, a sweep at a time."""
        for _ in range(round(seconds / SWEEP_S)):
            for _ in range(4):
                self.clocks.passes(SWEEP_S / 4)
                if ticks:
                    self.heartbeat._tick()
            if sweeps:
                self.sweeper.sweep()


@pytest.fixture
def pack_id(ledger: Ledger, clocks: Time) -> str:
    assert clocks.wall_s
    return ask(ledger)[0]


@pytest.fixture
def machine(
    clocks: Time, resources: WorkerResources, pack_id: str, monkeypatch: pytest.MonkeyPatch
) -> Machine:
    """No making hangs here, so that none must be ended with its process."""
    assert pack_id
    monkeypatch.setattr(Heartbeat, "_end", lambda _: pytest.fail("taken for one that hangs"))
    return Machine(clocks, resources, claimed(resources.ledger))


def test_a_lease_is_renewed_long_before_it_runs_out(machine: Machine, pack_id: str) -> None:
    """The making says nothing meanwhile: one step may take longer than a lease."""
    ledger, settings = machine.resources.ledger, machine.resources.settings
    for _ in range(200):
        machine.clocks.passes(TICK_S)
        machine.heartbeat._tick()
        until = row(ledger, pack_id).lease_until
        assert until is not None
        # A second beat has time to come where the first was refused.
        assert until - machine.clocks.wall_s > settings.lease_seconds / 2
    assert not machine.heartbeat.stopped()


def test_a_pack_is_made_in_peace_however_long_it_takes(machine: Machine, pack_id: str) -> None:
    machine.run(85)
    assert not machine.heartbeat.stopped()
    assert (row(machine.resources.ledger, pack_id).state, machine.heartbeat.stop_reason) == (
        "making",
        None,
    )


@pytest.mark.parametrize("asleep_s", [31, 3600, 5 * 86400])
@pytest.mark.parametrize("sweeps_first", [True, False])
def test_a_laptops_lid_costs_no_attempt(
    machine: Machine, pack_id: str, asleep_s: float, *, sweeps_first: bool
) -> None:
    """Three lids ended a pack as given up, since each made every lease look run out."""
    for _ in range(machine.resources.settings.attempts + 1):
        machine.run(10)
        machine.clocks.sleep_through(asleep_s)
        if sweeps_first:
            machine.sweeper.sweep()
    machine.run(20)
    assert not machine.heartbeat.stopped()
    assert row(machine.resources.ledger, pack_id).attempt == 1


def test_a_lid_closed_again_at_once_costs_no_attempt(machine: Machine, pack_id: str) -> None:
    """The sweeper wakes for a moment each time, and the maker never does."""
    for _ in range(20):
        machine.clocks.sleep_through(3600)
        machine.clocks.passes(0.01)
        machine.sweeper.sweep()
    machine.run(20)
    assert row(machine.resources.ledger, pack_id).attempt == 1
    assert not machine.heartbeat.stopped()


def test_after_a_sleep_the_lease_is_renewed_at_the_first_tick(
    machine: Machine, pack_id: str
) -> None:
    machine.heartbeat._tick()
    machine.clocks.sleep_through(3600)
    machine.clocks.passes(TICK_S)
    machine.heartbeat._tick()
    until = row(machine.resources.ledger, pack_id).lease_until
    assert until == machine.clocks.wall_s + machine.resources.settings.lease_seconds


def test_processes_that_are_stopped_together_lose_nothing(machine: Machine, pack_id: str) -> None:
    """After SIGSTOP and SIGCONT both clocks have gone on, as on Windows after a sleep."""
    machine.run(10)
    machine.clocks.passes(3600)
    machine.sweeper.sweep()
    machine.run(20)
    assert row(machine.resources.ledger, pack_id).attempt == 1
    # A sleep is not the making's slowness either.
    assert machine.heartbeat.stop_reason is None


def test_a_clock_set_back_stops_no_heartbeat(machine: Machine, pack_id: str) -> None:
    machine.run(10)
    machine.clocks.wall_s -= 3600
    machine.run(40)
    until = row(machine.resources.ledger, pack_id).lease_until
    assert until is not None
    assert until <= machine.clocks.wall_s + machine.resources.settings.lease_seconds


def test_what_a_dead_maker_held_is_made_again_and_its_files_go(
    machine: Machine, pack_id: str, storage: Storage
) -> None:
    ledger = machine.resources.ledger
    lost = row(ledger, pack_id)
    publish(storage, f"packs/{pack_id}/{lost.lease_token}")
    machine.run(machine.resources.settings.lease_seconds + LAPSE_GRACE_S + 2 * SWEEP_S, ticks=False)
    assert (row(ledger, pack_id).state, row(ledger, pack_id).attempt) == ("queued", 1)
    assert list(storage.keys("packs")) == []


def test_a_dead_maker_is_found_out_where_sweeps_are_slow(machine: Machine, pack_id: str) -> None:
    """Each takes a minute, say on files far away: a pause alone is no reason to wait again."""
    for _ in range(4):
        machine.clocks.passes(60)
        machine.sweeper.sweep()
    assert row(machine.resources.ledger, pack_id).state == "queued"


def test_a_maker_that_died_in_its_machines_sleep_is_found_out(
    machine: Machine, pack_id: str
) -> None:
    machine.run(10)
    machine.clocks.sleep_through(3600)
    machine.run(LAPSE_GRACE_S + 2 * SWEEP_S, ticks=False)
    assert row(machine.resources.ledger, pack_id).state == "queued"


def test_sleep_counts_for_no_limit_and_hanging_does(machine: Machine) -> None:
    machine.clocks.passes(machine.resources.settings.soft_limit_seconds + 1)
    machine.heartbeat._tick()
    assert machine.heartbeat.stop_reason is None
    machine.run(machine.resources.settings.soft_limit_seconds - MAX_PAUSE_S + SWEEP_S)
    assert machine.heartbeat.stop_reason is StopReason.TOO_SLOW


def test_a_lost_makers_files_are_thrown_away(
    resources: WorkerResources, settings: Settings, storage: Storage
) -> None:
    """Someone else has the pack by then: two attempts lie side by side until one loses."""
    (pack_id,) = ask(resources.ledger)
    other = open_ledger(settings)
    later: list[Claim] = []

    def make(request: PackRequest) -> MadePack:
        assert request.pack.lease_token is not None
        (request.folder / "pack.pdf").write_bytes(b"late")
        other.free_held_by({str(request.pack.lease_holder)})
        later.append(claimed(other, "other/1"))
        publish(storage, later[0].files_key)
        return MadePack(number="0000-0000", total=1)

    assert PackWorker(settings, "me", make).make_next()
    assert row(resources.ledger, pack_id).lease_token == later[0].token
    assert list(storage.keys(f"packs/{pack_id}")) == [later[0].files_key]
    other.close()


def test_a_cancelled_makers_files_are_thrown_away(
    resources: WorkerResources, settings: Settings, storage: Storage
) -> None:
    (pack_id,) = ask(resources.ledger)

    def make(request: PackRequest) -> MadePack:
        (request.folder / "pack.pdf").write_bytes(b"late")
        resources.ledger.cancel_or_delete(request.pack.id, LOCAL_OWNER)
        return MadePack(number="0000-0000", total=1)

    assert PackWorker(settings, "me", make).make_next()
    assert row(resources.ledger, pack_id).state == "cancelled"
    assert list(storage.keys("packs")) == []


def test_awake_time_is_counted_between_looks_that_come_often() -> None:
    times = iter([0.0, 1.0, 3.0, 100.0, 101.0, 50.0, 52.0])
    clock = AwakeClock(5.0, lambda: next(times))
    assert [clock.read() for _ in range(6)] == [1, 3, 8, 9, 9, 11]


def test_an_age_is_that_of_the_clock_that_went_on(clocks: Time) -> None:
    before = Moment.now()
    clocks.passes(3)
    assert before.age_s() == 3
    clocks.sleep_through(60)
    assert before.age_s() == 63
    assert replace(before, wall_s=2e6).age_s() == 3
