"""Batches: all or nothing, in roster order, the tutor's alone, and behind no student."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from worker.errors import NotFound
from worker.store.ledger import (
    Batch,
    BatchItemRow,
    BatchRow,
    ClassRow,
    Ledger,
    NewClass,
    NewItem,
    NewPack,
    PackResult,
    Person,
    ReferenceRow,
    StudentRow,
)

SPEC = {"support": {"width_mm": 600, "height_mm": 400}}
NAMES = ("Amélie", "ليلى", "王小明")


@dataclass
class Room:
    """A tutor with a class of three and a photo."""

    ledger: Ledger
    tutor: Person
    group: ClassRow
    students: tuple[StudentRow, ...]
    reference: ReferenceRow

    def ask(self, *, photo: str | None = None) -> Batch:
        """One photo for everyone, and nobody's copy with a reason why there is none."""
        batch = BatchRow(class_id=self.group.id, title="Jug")
        items = [self._item(batch, place, photo) for place in range(len(self.students))]
        row = BatchItemRow(
            batch_id=batch.id, position=9, error_code="not-found", error_detail="No photo."
        )
        return self.ledger.batches.add(batch, self.tutor.id, [*items, NewItem(row=row)])

    def _item(self, batch: BatchRow, place: int, photo: str | None) -> NewItem:
        student = self.students[place]
        pack = NewPack(
            owner_id=student.id,
            reference_id=photo or self.reference.id,
            payer_id=self.tutor.id,
            spec=SPEC,
            plan={"warnings": [{"code": "much-ink", "detail": "Much."}], "pieces": []},
            total=6,
        )
        row = BatchItemRow(
            batch_id=batch.id, position=place, student_id=student.id, pack_id=pack.id, title="Jug"
        )
        return NewItem(row=row, pack=pack)


@pytest.fixture
def room(ledger: Ledger) -> Room:
    tutor, _ = ledger.people.add_tutor("Tutor")
    group = ledger.classes.add(NewClass(tutor_id=tutor.id, name="7b"))
    students = ledger.students.add(group.id, tutor.id, NAMES)
    row = ReferenceRow(
        owner_id=tutor.id, width_px=400, height_px=300, format="jpeg", sha256="0" * 64
    )
    return Room(ledger, tutor, group, students, ledger.add_reference(row))


def test_a_batch_is_told_in_roster_order_with_names_and_warnings(room: Room) -> None:
    asked = room.ask()
    found = room.ledger.batches.get(asked.row.id, room.tutor.id)
    assert found == asked
    assert [item.student_name for item in found.items] == [*NAMES, ""]
    assert found.unfinished == 3
    first, last = found.items[0].pack, found.items[-1]
    assert first is not None
    assert (first.state, first.total) == ("queued", 6)
    assert [warning["code"] for warning in first.warnings] == ["much-ink"]
    assert last.pack is None
    assert last.row.error_code == "not-found"
    assert room.ledger.batches.of_class(room.group.id, room.tutor.id) == (found,)


def test_there_is_never_half_a_batch(room: Room) -> None:
    with pytest.raises(NotFound):
        room.ask(photo="ref_" + "x" * 22)
    assert room.ledger.batches.of_class(room.group.id, room.tutor.id) == ()
    assert room.ledger.waiting() == 0


def test_another_tutor_sees_nothing_and_changes_nothing(room: Room) -> None:
    batch = room.ask().row
    other, _ = room.ledger.people.add_tutor("Other")
    for refused in (
        room.ledger.batches.get,
        room.ledger.batches.cancel,
        room.ledger.batches.delete,
    ):
        with pytest.raises(NotFound):
            refused(batch.id, other.id)
    with pytest.raises(NotFound):
        room.ledger.batches.of_class(room.group.id, other.id)
    with pytest.raises(NotFound):
        room.ledger.batches.add(BatchRow(class_id=room.group.id), other.id, [])
    assert room.ledger.waiting() == 3


def test_a_student_has_their_pack_and_comes_before_the_rest(room: Room) -> None:
    batch = room.ask()
    mine = batch.items[2].pack
    assert mine is not None
    assert room.ledger.pack(mine.id, room.students[2].id).title == ""
    with pytest.raises(NotFound):
        room.ledger.pack(mine.id, room.students[0].id)
    begun = room.ledger.claim("a")
    own = NewPack(
        owner_id=room.students[2].id,
        reference_id=room.reference.id,
        spec=SPEC,
    )
    asked = room.ledger.enqueue(own)
    following = room.ledger.claim("b")
    assert begun is not None
    assert following is not None
    assert following.pack.id == asked.id


def test_cancelling_keeps_what_is_made(room: Room) -> None:
    batch = room.ask().row
    claim = room.ledger.claim("a")
    assert claim is not None
    made = PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=6)
    assert room.ledger.finish(claim, made)
    second = room.ledger.claim("a")
    assert second is not None
    after = room.ledger.batches.cancel(batch.id, room.tutor.id)
    states = sorted(item.pack.state for item in after.items if item.pack)
    assert states == ["cancelled", "making", "ready"]
    assert room.ledger.check_lease(second).value == "cancel"
    assert after.row.cancelled_at is not None


def test_deleting_takes_the_packs_along(room: Room) -> None:
    batch = room.ask()
    ids = [item.pack.id for item in batch.items if item.pack]
    assert sorted(room.ledger.batches.delete(batch.row.id, room.tutor.id)) == sorted(
        f"packs/{one}" for one in ids
    )
    with pytest.raises(NotFound):
        room.ledger.batches.get(batch.row.id, room.tutor.id)
    with pytest.raises(NotFound):
        room.ledger.pack(ids[0], room.tutor.id)


def test_a_deleted_student_leaves_no_line(room: Room) -> None:
    batch = room.ask().row
    room.ledger.students.delete(room.students[1].id, room.tutor.id)
    found = room.ledger.batches.get(batch.id, room.tutor.id)
    assert [item.student_name for item in found.items] == [NAMES[0], NAMES[2], ""]
