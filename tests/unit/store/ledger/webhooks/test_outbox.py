"""What is to be told is written with what happened, for those who may see it, and once."""

from __future__ import annotations

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.webhooks.conftest import SCOPES, Room
from worker.store.ledger import Claim, Ledger, PackResult
from worker.store.ledger.packs import claims


def test_packs_and_their_batch_are_told_to_who_may_see_them(room: Room) -> None:
    stranger = room.ledger.people.add_tutor("Eve")[0].id
    hooks = [room.hook(room.tutor), room.hook(room.site)]
    others = [room.hook(stranger), room.hook(room.tutor, "student.joined")]
    room.ask()
    ready = room.make()
    assert [room.told(one) for one in hooks] == [[("pack.ready", ready)]] * 2
    failed = room.make(fail=True)
    whole = sorted([("pack.ready", ready), ("pack.failed", failed), ("batch.done", room.batch)])
    assert [room.told(one) for one in hooks] == [whole] * 2
    assert [room.told(one) for one in others] == [[], []]


def test_a_student_who_joins_is_told(room: Room) -> None:
    hook = room.hook(room.site)
    room.ledger.classes.change(room.class_id, room.tutor, {"joining_open": True})
    room.ledger.students.join(room.class_id, name="Zoë Müller")
    assert room.told(hook) == [("student.joined", room.students[0])]


def finish_and_fail(ledger: Ledger, claim: Claim, made: PackResult) -> None:
    """Roll a finished pack back."""
    with ledger._database.writing() as connection:
        assert claims.finish(connection, claim, made, 1.0)
        raise ZeroDivisionError


def test_what_was_rolled_back_is_not_told(room: Room) -> None:
    hook = room.hook(room.site)
    room.ask()
    claim = room.ledger.claim("me")
    assert claim is not None
    made = PackResult(number="7K3F", files_key=claim.files_key, total=1)
    with pytest.raises(ZeroDivisionError):
        finish_and_fail(room.ledger, claim, made)
    assert room.told(hook) == []
    assert room.ledger.finish(claim, made)
    assert room.told(hook) == [("pack.ready", claim.pack.id)]


def test_a_pack_that_is_not_finished_any_more_is_not_told(room: Room) -> None:
    hook = room.hook(room.site)
    room.ask()
    claim = room.ledger.claim("me")
    assert claim is not None
    room.ledger.cancel_or_delete(claim.pack.id, room.tutor)
    made = PackResult(number="7K3F", files_key=claim.files_key, total=1)
    assert not room.ledger.finish(claim, made)
    assert room.told(hook) == []


def cancel_batch(room: Room) -> None:
    room.ledger.batches.cancel(room.batch, room.tutor)


def cancel_pack(room: Room) -> None:
    room.ledger.cancel_or_delete(room.packs[1], room.tutor)


def delete_student(room: Room) -> None:
    room.ledger.students.delete(room.students[1], room.tutor)


def cancel_while_made(room: Room) -> None:
    claim = room.ledger.claim("me")
    assert claim is not None
    room.ledger.cancel_or_delete(claim.pack.id, room.tutor)
    assert room.ledger.cancelled(claim)


@pytest.mark.parametrize("end", [cancel_batch, cancel_pack, delete_student, cancel_while_made])
def test_a_batch_is_done_however_its_last_pack_ended(room: Room, end: object) -> None:
    hook = room.hook(room.site, "batch.done")
    room.ask()
    assert room.make() == room.packs[0]
    assert room.told(hook) == []
    end(room)  # type: ignore[operator]
    assert room.told(hook) == [("batch.done", room.batch)]


def test_packs_whose_makers_died_are_told_too(room: Room, clock: Clock) -> None:
    hook = room.hook(room.site)
    room.ask()
    for _ in range(2 * room.ledger.attempts):
        assert room.ledger.claim("me") is not None
        clock.now += 31
        room.ledger.free_lapsed()
    failed = [("pack.failed", one) for one in room.packs]
    assert room.told(hook) == sorted([*failed, ("batch.done", room.batch)])


def test_files_that_are_gone_fail_a_pack(room: Room) -> None:
    hook = room.hook(room.site, "pack.failed", "batch.done")
    room.ask()
    pack = room.make()
    key = room.ledger.pack(pack, room.tutor).files_key
    assert key is not None
    assert room.ledger.files_missing(pack, key)
    assert room.told(hook) == [("pack.failed", pack)]


def test_a_site_without_the_scope_or_its_time_is_told_nothing(room: Room, clock: Clock) -> None:
    hook = room.hook(room.site)
    room.ask()
    room.ledger.sites.change(room.site, room.tutor, {"scopes": ["read-class"]})
    room.make()
    room.ledger.sites.change(
        room.site, room.tutor, {"scopes": list(SCOPES), "expires_at": clock.now}
    )
    room.make()
    assert room.told(hook) == []


def test_what_is_told_goes_with_what_it_is_about(room: Room) -> None:
    hook = room.hook(room.site)
    room.ledger.classes.change(room.class_id, room.tutor, {"joining_open": True})
    room.ledger.students.join(room.class_id, student_id=None, name="Zoë Müller")
    room.ask()
    room.make(), room.make()
    assert len(room.told(hook)) == 4
    room.ledger.students.delete(room.students[0], room.tutor)
    assert room.told(hook) == sorted([("pack.ready", room.packs[1]), ("batch.done", room.batch)])
    room.ledger.batches.delete(room.batch, room.tutor)
    assert room.told(hook) == []
