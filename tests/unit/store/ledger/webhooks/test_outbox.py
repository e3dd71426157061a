"""What is to be told is written with what happened, for those who may see it, and once."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from tests.unit.store.ledger.conftest import Asker, Clock
from worker.store.ledger import (
    EVENTS,
    BatchItemRow,
    BatchRow,
    Bounds,
    Claim,
    Ledger,
    MessageRow,
    NewClass,
    NewItem,
    NewPack,
    NewSite,
    PackResult,
)
from worker.store.ledger.packs import claims

URL = "https://course.example/hooks"
SCOPES = ("read-class", "webhooks")


@dataclass
class Room:
    """A tutor with a class of two, a site in it, and a batch with a pack for each."""

    ledger: Ledger
    tutor: str = ""
    class_id: str = ""
    site: str = ""
    students: list[str] = field(default_factory=list)
    batch: str = ""
    packs: list[str] = field(default_factory=list)

    def furnish(self) -> Room:
        """Everything but webhooks."""
        ledger = self.ledger
        self.tutor = ledger.people.add_tutor("Ada")[0].id
        self.class_id = ledger.classes.add(NewClass(tutor_id=self.tutor, name="Noon")).id
        rows = ledger.students.add(self.class_id, self.tutor, ["Zoë Müller", "李小龍"])
        self.students = [one.id for one in rows]
        new = NewSite(tutor_id=self.tutor, name="Pages", scopes=SCOPES)  # type: ignore[arg-type]
        self.site = ledger.sites.add(new)[0].id
        return self

    def ask(self) -> None:
        """Ask for the batch."""
        row = BatchRow(class_id=self.class_id)
        photo = Asker(self.ledger, self.tutor).reference.id
        items = []
        for position, student in enumerate(self.students):
            pack = NewPack(
                owner_id=student, payer_id=self.tutor, reference_id=photo, spec={}, bounds=Bounds()
            )
            line = BatchItemRow(
                batch_id=row.id, position=position, student_id=student, pack_id=pack.id
            )
            items.append(NewItem(row=line, pack=pack))
            self.packs.append(pack.id)
        self.batch = self.ledger.batches.add(row, self.tutor, items).row.id

    def hook(self, owner: str, *events: str) -> str:
        """The id of a webhook of someone; without events, for all."""
        wanted = events or tuple(EVENTS)
        return self.ledger.webhooks.add(owner, URL, wanted).webhook.id  # type: ignore[arg-type]

    def make(self, *, fail: bool = False) -> str:
        """The next pack is made."""
        claim = self.ledger.claim("me")
        assert claim is not None
        if fail:
            assert self.ledger.fail(claim, "gave-up", "It did not work.")
        else:
            made = PackResult(number="7K3F", files_key=claim.files_key, total=1)
            assert self.ledger.finish(claim, made)
        return claim.pack.id

    def told(self, hook: str) -> list[tuple[str, str]]:
        """What a webhook is told, by event and id, in order of the two."""
        rows: tuple[MessageRow, ...] = self.ledger.deliveries.of_webhook(hook)
        return sorted((one.type, one.about) for one in rows)


@pytest.fixture
def room(ledger: Ledger) -> Room:
    return Room(ledger).furnish()


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
