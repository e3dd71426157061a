"""A full disk: deleting works all the same, and what cannot be made waits for room."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from tests.clock import Clock
from tests.migrated import migrated
from tests.small_disks import SmallDisk, small_disk
from tests.unit.store.ledger.conftest import Asker
from worker.errors import StorageFull
from worker.store.ledger import ClassSettings, Ledger, NewClass, NewPack, PackRow, ReferenceRow
from worker.store.ledger.disk.reserve import PIECE_BYTES, PIECES, Reserve
from worker.store.ledger.packs.claims import MOST_ROOM_WAITS, WAITING_FOR_ROOM

#: About what a plan of 400 sheets takes.
LARGE_PLAN = {"pieces": [{"label": f"{n}", "rect_mm": "0123456789" * 20} for n in range(400)]}


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    with small_disk(tmp_path / "disk", 96) as mounted:
        yield mounted


@pytest.fixture
def small(disk: SmallDisk, clock: Clock) -> Iterator[Ledger]:
    """A ledger on the small disk, with its reserve."""
    opened = Ledger.open(f"sqlite:///{(disk.path / 'ledger.db').as_posix()}", clock=clock)
    migrated(opened).fill_reserve()
    yield opened
    opened.close()


class Group:
    """A class with students who have a photo and packs each."""

    def __init__(self, ledger: Ledger, students: int, plan: dict[str, Any]) -> None:
        self.tutor = ledger.people.add_tutor("Tutor")[0].id
        new = NewClass(tutor_id=self.tutor, name="Class", settings=ClassSettings())
        self.id = ledger.classes.add(new).id
        ledger.students.add(self.id, self.tutor, [f"Student {n:03}" for n in range(students)])
        self.students = [one.id for one in ledger.students.of_class(self.id)]
        self.photos, self.packs = [], []
        for student in self.students:
            photo = ReferenceRow(
                owner_id=student, width_px=9, height_px=9, format="jpeg", sha256="0" * 64
            )
            self.photos.append(ledger.add_reference(photo).id)
            for _ in range(3):
                pack = NewPack(owner_id=student, reference_id=photo.id, spec={}, plan=plan)
                self.packs.append(ledger.enqueue(pack).id)


def fill_up(ledger: Ledger, disk: SmallDisk, reference_id: str) -> None:
    """Fill the disk, and then the log, until nothing more can be asked for."""
    disk.fill()
    with suppress(StorageFull):
        for _ in itertools.count():
            ledger.enqueue(NewPack(reference_id=reference_id, spec={}, plan=LARGE_PLAN))


def test_everything_can_be_deleted_from_a_full_disk(small: Ledger, disk: SmallDisk) -> None:
    group = Group(small, 5, {"pieces": []})
    own = Asker(small)
    fill_up(small, disk, own.reference.id)
    own_keys = small.delete_reference(own.reference.id, "local")
    assert own_keys[0] == own.reference.files_key
    disk.fill()
    small.cancel_or_delete(group.packs[0], group.students[0])
    assert small.cancel_or_delete(group.packs[0], group.students[0]).keys
    disk.fill()
    assert len(small.students.delete(group.students[0], group.tutor)) == 1 + 2
    disk.fill()
    assert len(small.people.erase(group.students[1])) == 1 + 3
    disk.fill()
    assert len(small.classes.delete(group.id, group.tutor)) == 3 * (1 + 3)
    disk.empty()
    small.fill_reserve()


def test_a_class_that_is_larger_than_the_reserve_is_deleted_in_parts(
    small: Ledger, disk: SmallDisk
) -> None:
    group = Group(small, 60, LARGE_PLAN)
    assert 1.5 * PIECES * PIECE_BYTES < 60 * 3 * 80_000
    fill_up(small, disk, Asker(small).reference.id)
    keys = small.classes.delete(group.id, group.tutor)
    assert set(keys) == {
        *(f"references/{one}" for one in group.photos),
        *(f"packs/{one}" for one in group.packs),
    }
    assert small.known_references(group.photos) == set()


def test_on_a_full_disk_one_signs_in_and_takes_over_from_the_dead(
    small: Ledger, disk: SmallDisk
) -> None:
    """Who cannot sign in cannot delete, and a worker that cannot start takes the web along."""
    _, issued = small.people.add_tutor("Tutor")
    asker = Asker(small)
    pack_id = asker.ask().id
    assert small.claim("dead/1") is not None
    fill_up(small, disk, asker.reference.id)
    assert small.people.opened_by(small.people.sign_in(issued.access.id).key)
    disk.fill()
    assert small.free_held_by({"dead/1"}).requeued == (pack_id,)


def test_a_pack_that_is_cancelled_is_not_queued_again(ledger: Ledger, asker: Asker) -> None:
    for queue_again in (
        lambda claim: ledger.wait_for_room(claim, "Full."),
        lambda claim: ledger.retry(claim, "Odd."),
    ):
        pack_id = asker.ask().id
        claim = ledger.claim("me")
        assert claim is not None
        ledger.cancel_or_delete(pack_id, "local")
        assert not queue_again(claim)
        assert ledger.pack(pack_id, "local").state == "cancelled"


def test_what_time_deletes_goes_from_a_full_disk_too(
    small: Ledger, disk: SmallDisk, clock: Clock
) -> None:
    photo = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64, delete_after=2e6)
    small.add_reference(photo)
    fill_up(small, disk, photo.id)
    clock.now = 3e6
    assert photo.files_key in small.expire()


def test_a_ledger_is_opened_on_a_full_disk(small: Ledger, disk: SmallDisk) -> None:
    """A service that was stopped there must start: it is what one deletes with."""
    asker = Asker(small)
    small.close()
    disk.fill()
    again = Ledger.open(str(small._database.engine.url))
    again.migrate()
    assert again.delete_reference(asker.reference.id, "local")
    again.close()


def test_the_reserve_leaves_what_a_deletion_was_given(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 20) as disk:
        reserve = Reserve(disk.path / "reserve")
        reserve.fill()
        assert reserve.is_complete()
        disk.fill()
        assert reserve.release_piece()
        assert disk.free >= PIECE_BYTES
        with pytest.raises(StorageFull, match="make room"):
            reserve.fill()
        assert disk.free >= PIECE_BYTES
        assert [reserve.release_piece() for _ in range(PIECES)] == [True] * (PIECES - 1) + [False]
        disk.empty()
        reserve.fill()
        assert reserve.is_complete()
        assert shutil.disk_usage(disk.path).used >= PIECES * PIECE_BYTES


def test_a_reserve_takes_room_where_nothing_can_be_set_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: int) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr("os.posix_fallocate", refuse, raising=False)
    reserve = Reserve(tmp_path / "reserve")
    reserve.fill()
    assert reserve.is_complete()
    taken = sum(path.stat().st_blocks * 512 for path in (tmp_path / "reserve").iterdir())
    assert taken >= PIECES * PIECE_BYTES


def claimed(ledger: Ledger, clock: Clock, row: PackRow) -> Any:
    """The pack, claimed when its pause is over."""
    clock.now = max(clock.now, row.not_before)
    claim = ledger.claim("w/1")
    assert claim is not None
    return claim


def test_a_pack_that_met_a_full_disk_waits_and_that_is_no_attempt(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    row = asker.ask()
    pauses = []
    for _ in range(MOST_ROOM_WAITS):
        claim = claimed(ledger, clock, row)
        assert ledger.wait_for_room(claim, "The disk is full.")
        row = asker.look(row)
        assert (row.state, row.step, row.attempt) == ("queued", WAITING_FOR_ROOM, 0)
        pauses.append(row.not_before - clock.now)
    assert pauses == sorted(pauses)
    assert sum(pauses) > 3600
    # What it says in the end is what was wrong the last time: full, or away.
    claim = claimed(ledger, clock, row)
    assert not ledger.wait_for_room(claim, "It does not answer.", "storage-unavailable")
    row = asker.look(row)
    assert (row.state, row.error_code) == ("failed", "storage-unavailable")
    assert row.error_detail == "It does not answer."


def test_packs_that_wait_say_whether_it_is_for_room(ledger: Ledger, asker: Asker) -> None:
    rows = [asker.ask() for _ in range(2)]
    assert ledger.note_room(there=True) == 0
    assert ledger.note_room(there=False) == 2
    assert ledger.note_room(there=False) == 0
    assert {asker.look(row).step for row in rows} == {WAITING_FOR_ROOM}
    assert ledger.note_room(there=True) == 2
    assert {asker.look(row).step for row in rows} == {""}
