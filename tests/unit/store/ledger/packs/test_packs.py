"""Packs from asking to their end, each state and each way out of it."""

from __future__ import annotations

import math
from typing import Any

import pytest
import sqlalchemy as sa

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.errors import NotFound
from worker.store.ledger import (
    Claim,
    HeartbeatReply,
    Ledger,
    NewClass,
    NewPack,
    PackResult,
    PackRow,
    ReferenceRow,
    Step,
)
from worker.store.ledger.tables import OWNERS


def claimed(ledger: Ledger, worker: str = "w/1") -> Claim:
    claim = ledger.claim(worker)
    assert claim is not None
    return claim


def made(claim: Claim) -> PackResult:
    return PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=6)


def add_owner(ledger: Ledger, owner_id: str) -> None:
    values = {"id": owner_id, "name": owner_id, "virtual_time": 0.0, "created_at": 0.0}
    with ledger._database.writing() as connection:
        connection.execute(sa.insert(OWNERS).values(**values))


def test_a_pack_goes_from_queued_through_making_to_ready(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    assert (asked.state, asked.attempt, asked.created_at) == ("queued", 0, clock.now)
    assert asked.title == "Stillleben № 3"
    clock.now += 5
    claim = claimed(ledger)
    assert (claim.pack.id, claim.pack.state, claim.pack.attempt) == (asked.id, "making", 1)
    assert claim.pack.lease_until == clock.now + ledger.lease_s
    assert ledger.heartbeat(claim, Step(done=2, total=6, step="sheets")) is HeartbeatReply.HELD
    row = asker.look(asked)
    assert (row.done, row.total, row.step, row.started_at) == (2, 6, "sheets", clock.now)
    clock.now += 1
    assert ledger.finish(claim, made(claim))
    row = asker.look(asked)
    assert (row.state, row.number, row.plan) == ("ready", "7K3F-Q2ZD", asked.plan)
    # The plan stays as it was asked for, in every digit.
    assert row.plan == {"sheet_count": 6, "a_third_mm": 1 / 3}
    assert (row.done, row.total, row.finished_at) == (6, 6, clock.now)
    assert row.files_key == f"packs/{row.id}/{claim.token}"
    assert row.lease_token is row.lease_until is row.lease_holder is None
    assert row.ended


def test_nothing_waits_nothing_is_claimed(ledger: Ledger, asker: Asker) -> None:
    assert ledger.claim("w/1") is None
    asker.ask()
    claimed(ledger)
    assert ledger.claim("w/2") is None


def test_a_pack_is_of_its_owner_only(ledger: Ledger, asker: Asker) -> None:
    asked = asker.ask()
    with pytest.raises(NotFound):
        ledger.pack(asked.id, "someone")
    with pytest.raises(NotFound):
        ledger.cancel_or_delete(asked.id, "someone")
    with pytest.raises(NotFound):
        ledger.reference(asker.reference.id, "someone")
    with pytest.raises(NotFound):
        ledger.delete_reference(asker.reference.id, "someone")
    foreign = NewPack(owner_id="someone", reference_id=asker.reference.id, spec={})
    with pytest.raises(NotFound) as caught:
        ledger.enqueue(foreign)
    assert caught.value.field == "reference_id"


def test_references_are_found_by_their_bytes_the_newest_first(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    clock.now += 1
    again = Asker(ledger).reference
    found = ledger.references_of(again.sha256, "local")
    assert found == [again, asker.reference]
    assert ledger.references_of(again.sha256, "someone") == []
    assert ledger.references_of("1" * 64, "local") == []


def test_whoever_asks_for_many_queues_behind_himself(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    add_owner(ledger, "other")
    batch = [asker.ask() for _ in range(30)]
    clock.now += 2
    single = Asker(ledger, "other").ask()
    order = []
    while claim := ledger.claim("w/1"):
        order.append(claim.pack.id)
    # Two seconds of the batch were before it, and its own one second.
    assert order.index(single.id) <= 3
    assert [pack_id for pack_id in order if pack_id != single.id] == [row.id for row in batch]


def test_cost_moves_later_packs_of_the_same_owner_only(ledger: Ledger, asker: Asker) -> None:
    add_owner(ledger, "other")
    dear = asker.ask(cost_s=100)
    cheap = Asker(ledger, "other").ask(cost_s=1)
    assert cheap.virtual_time == dear.virtual_time
    assert asker.ask(cost_s=1).virtual_time == dear.virtual_time + 100


def test_a_queued_pack_is_cancelled_at_once_and_an_ended_one_deleted(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    ended = ledger.cancel_or_delete(asked.id, "local")
    assert ended.pack is not None
    assert (ended.pack.state, ended.pack.finished_at, ended.keys) == ("cancelled", clock.now, ())
    assert ledger.claim("w/1") is None
    ended = ledger.cancel_or_delete(asked.id, "local")
    assert (ended.pack, ended.keys) == (None, (f"packs/{asked.id}",))
    with pytest.raises(NotFound):
        asker.look(asked)


def test_a_photo_goes_with_its_last_pack_alone(ledger: Ledger, asker: Asker) -> None:
    """Where it is asked for; and then also the photo that this one was squared up from."""
    origin = asker.reference
    row = ReferenceRow(
        width_px=40, height_px=30, format="jpeg", sha256="1" * 64, made_from=origin.id
    )
    asker.reference = squared = ledger.add_reference(row)
    first, last = asker.ask(), asker.ask()
    for photo in (origin, squared):
        assert ledger.delete_reference(photo.id, "local", if_unused=True) == ()
    for one in (first, last):
        ledger.cancel_or_delete(one.id, "local", with_photo=True)
    assert ledger.cancel_or_delete(first.id, "local", with_photo=True).keys == (
        f"packs/{first.id}",
    )
    assert ledger.cancel_or_delete(last.id, "local", with_photo=True).keys == (
        f"packs/{last.id}",
        squared.files_key,
        origin.files_key,
    )
    assert ledger.known_references([origin.id, squared.id]) == set()


def test_a_photo_that_is_lent_stays(ledger: Ledger) -> None:
    tutor = ledger.people.add_tutor("Ada")[0].id
    lent = Asker(ledger, tutor).reference
    class_id = ledger.classes.add(NewClass(tutor_id=tutor, name="Noon")).id
    (kit,) = (one.id for one in ledger.students.add(class_id, tutor, ["Kit"]))
    new = NewPack(owner_id=kit, payer_id=tutor, reference_id=lent.id, spec={})
    asked = ledger.enqueue(new)
    ledger.cancel_or_delete(asked.id, kit)
    ended = ledger.cancel_or_delete(asked.id, kit, with_photo=True)
    assert ended.keys == (f"packs/{asked.id}",)
    assert ledger.known_references([lent.id]) == {lent.id}


def test_a_pack_in_the_making_is_asked_to_stop(ledger: Ledger, asker: Asker) -> None:
    asked = asker.ask()
    claim = claimed(ledger)
    ended = ledger.cancel_or_delete(asked.id, "local")
    assert ended.pack is not None
    assert (ended.pack.state, ended.pack.cancel_requested) == ("making", True)
    assert ledger.check_lease(claim) is ledger.heartbeat(claim) is HeartbeatReply.CANCEL
    assert not ledger.finish(claim, made(claim))
    assert ledger.cancelled(claim)
    assert asker.look(asked).state == "cancelled"
    assert ledger.check_lease(claim) is HeartbeatReply.LOST


def test_a_lost_lease_changes_nothing_any_more(ledger: Ledger, asker: Asker, clock: Clock) -> None:
    asked = asker.ask()
    late = claimed(ledger)
    clock.now += ledger.lease_s + 1
    report = ledger.free_lapsed()
    assert (report.requeued, report.stale_keys) == ((asked.id,), (late.files_key,))
    current = claimed(ledger, "w/2")
    assert current.pack.attempt == 2
    assert ledger.heartbeat(late) is ledger.check_lease(late) is HeartbeatReply.LOST
    assert not ledger.finish(late, made(late))
    assert not ledger.fail(late, "x", "y")
    assert not ledger.cancelled(late)
    assert ledger.live_attempts([asked.id]) == {current.files_key}
    assert ledger.finish(current, made(current))
    assert not ledger.finish(late, made(late))
    assert asker.look(asked).files_key == current.files_key
    assert ledger.live_attempts([asked.id, "pck_none"]) == {current.files_key}


def test_a_heartbeat_keeps_the_sweeper_away(ledger: Ledger, asker: Asker, clock: Clock) -> None:
    asker.ask()
    claim = claimed(ledger)
    for _ in range(5):
        clock.now += ledger.lease_s - 1
        assert ledger.heartbeat(claim) is HeartbeatReply.HELD
        assert ledger.free_lapsed().requeued == ()


def test_a_pack_whose_makers_die_is_given_up(ledger: Ledger, asker: Asker, clock: Clock) -> None:
    asked = asker.ask()
    for attempt in (1, 2, 3):
        assert claimed(ledger).pack.attempt == attempt
        clock.now += ledger.lease_s + 1
        report = ledger.free_lapsed()
    assert report.gave_up == (asked.id,)
    row = asker.look(asked)
    assert (row.state, row.error_code, row.attempt) == ("failed", "gave-up", 3)
    assert "3 times" in str(row.error_detail)
    assert ledger.claim("w/1") is None


def test_a_cancelled_pack_whose_maker_died_is_cancelled(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    claimed(ledger)
    ledger.cancel_or_delete(asked.id, "local")
    clock.now += ledger.lease_s + 1
    assert ledger.free_lapsed().cancelled == (asked.id,)
    assert asker.look(asked).state == "cancelled"


def test_packs_of_a_worker_that_is_known_dead_come_free_at_once(
    ledger: Ledger, asker: Asker
) -> None:
    first, second = asker.ask(), asker.ask()
    claimed(ledger, "dead/1")
    claimed(ledger, "alive/1")
    assert ledger.lease_holders() == {"dead/1", "alive/1"}
    assert ledger.free_held_by({"dead/1"}).requeued == (first.id,)
    assert asker.look(second).state == "making"


def test_another_attempt_waits_for_its_pause_and_the_last_one_fails(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    assert ledger.retry(claimed(ledger), "why", pause_s=10)
    assert (ledger.claim("w/1"), ledger.waiting()) == (None, 0)
    clock.now += 10
    assert ledger.waiting() == 1
    assert ledger.retry(claimed(ledger), "why")
    assert not ledger.retry(claimed(ledger), "why")
    row = asker.look(asked)
    assert (row.state, row.error_code, row.error_detail) == ("failed", "gave-up", "why")


def test_a_pack_that_is_handed_back_waits_for_others_and_lost_no_attempt(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    assert ledger.hand_back(claimed(ledger))
    assert (asker.look(asked).state, asker.look(asked).attempt) == ("queued", 0)
    claim = claimed(ledger, "other/1")
    assert claim.pack.attempt == 1
    assert ledger.leave_to_newer(claim, ("plan-outdated", "Newer."))
    assert ledger.claim("other/1") is None
    clock.now += 6
    claim = claimed(ledger, "newer/1")
    assert claim.pack.attempt == 1
    ledger.free_held_by({"newer/1"})
    # Whoever lost the lease meanwhile hands nothing back.
    assert not ledger.hand_back(claim)


def test_a_pack_that_no_newer_worker_takes_fails_after_an_hour(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    clock.now += 3601
    assert not ledger.leave_to_newer(claimed(ledger), ("plan-outdated", "Newer."))
    row = asker.look(asked)
    assert (row.state, row.error_code, row.error_detail) == ("failed", "plan-outdated", "Newer.")


def test_deleting_a_reference_takes_its_packs_and_their_leases(
    ledger: Ledger, asker: Asker
) -> None:
    asked = [asker.ask(), asker.ask()]
    claim = claimed(ledger)
    keys = ledger.delete_reference(asker.reference.id, "local")
    assert keys[0] == asker.reference.files_key == f"references/{asker.reference.id}"
    assert set(keys[1:]) == {f"packs/{row.id}" for row in asked}
    assert ledger.heartbeat(claim) is HeartbeatReply.LOST
    assert not ledger.finish(claim, made(claim))
    with pytest.raises(NotFound):
        ledger.reference(asker.reference.id, "local")
    assert ledger.known_references([asker.reference.id]) == set()


def test_counts_are_of_what_is_there(ledger: Ledger, asker: Asker, clock: Clock) -> None:
    for _ in range(3):
        asker.ask()
    claim = claimed(ledger)
    ledger.fail(claim, "too-slow", "Because.")
    clock.now += 7
    gauges = ledger.gauges()
    assert gauges.packs == {"queued": 2, "making": 0, "ready": 0, "failed": 1, "cancelled": 0}
    assert (gauges.references, gauges.oldest_s["queued"], gauges.idle_s) == (1, 7, 7)
    assert (ledger.waiting(), ledger.waiting(5), ledger.waiting(8)) == (2, 2, 0)


def test_it_is_known_since_when_no_worker_has_made_anything(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    ledger.cancel_or_delete(asker.ask().id, "local")
    assert ledger.gauges().idle_s == math.inf
    for _ in range(2):
        asker.ask()
    claim = claimed(ledger)
    clock.now += ledger.lease_s
    assert ledger.gauges().idle_s == 0
    clock.now += 5
    assert ledger.gauges().idle_s == 5
    assert ledger.finish(claim, made(claim))
    assert ledger.gauges().idle_s == 0
    clock.now += 60
    assert ledger.gauges().idle_s == 60


def test_one_sweeps_at_a_time(ledger: Ledger, clock: Clock) -> None:
    assert ledger.take_turn("sweep", "a", 15)
    assert ledger.take_turn("sweep", "a", 15)
    assert not ledger.take_turn("sweep", "b", 15)
    clock.now += 16
    assert ledger.take_turn("sweep", "b", 15)
    assert not ledger.take_turn("sweep", "a", 15)


def test_ids_cannot_be_guessed_and_say_what_they_name(asker: Asker) -> None:
    rows: list[PackRow] = [asker.ask(), asker.ask()]
    assert rows[0].id != rows[1].id
    # 16 bytes of randomness are 22 letters of base64 (RFC 4648).
    assert all(row.id.startswith("pck_") and len(row.id) == 26 for row in rows)
    assert asker.reference.id.startswith("ref_")


def test_what_someone_else_commits_is_noticed(ledger: Ledger, url: str) -> None:
    other: Any = Ledger.open(url)
    before = ledger.data_version()
    assert ledger.data_version() == before
    Asker(other)
    assert ledger.data_version() != before
    other.close()
