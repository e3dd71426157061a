"""Who waits behind whom: start-time fair queueing, on a machine slower than its estimates."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.clock import Clock
from worker.errors import LimitReached, NotFound, TooManyUnfinished
from worker.store.ledger import (
    Bounds,
    Ledger,
    NewClass,
    NewPack,
    PackResult,
    ReferenceRow,
    StudentRow,
)

#: What making really takes, where packs were thought to take a second.
SLOW_S = 30.0


class Room:
    """A tutor with a class, and packs that are asked for and made."""

    def __init__(self, ledger: Ledger, clock: Clock, students: int) -> None:
        self.ledger, self.clock = ledger, clock
        self.tutor_id = ledger.people.add_tutor("Ada")[0].id
        new = NewClass(tutor_id=self.tutor_id, name="Noon")
        self.class_ = ledger.classes.add(new)
        names = [f"Student {number}" for number in range(students)]
        self.students: tuple[StudentRow, ...] = ledger.students.add(
            self.class_.id, self.tutor_id, names
        )
        self.photos = {one: self.photo(one) for one in [self.tutor_id, *self.ids()]}

    def ids(self) -> list[str]:
        """The students' ids."""
        return [one.id for one in self.students]

    def photo(self, owner_id: str) -> str:
        """Someone's photo."""
        row = ReferenceRow(
            owner_id=owner_id, width_px=40, height_px=30, format="png", sha256="0" * 64
        )
        return self.ledger.add_reference(row).id

    def ask(self, student: int, **more: object) -> str:
        """A student asks for a pack."""
        owner = self.students[student].id
        new = NewPack(owner_id=owner, reference_id=self.photos[owner], spec={}, **more)  # type: ignore[arg-type]
        return self.ledger.enqueue(new).id

    def batch(self, packs: int) -> list[str]:
        """The tutor asks for packs for the first student, made from the tutor's photo."""
        new = {
            "owner_id": self.students[0].id,
            "payer_id": self.tutor_id,
            "reference_id": self.photos[self.tutor_id],
        }
        return [self.ledger.enqueue(NewPack(**new, spec={})).id for _ in range(packs)]

    def make_one(self) -> str:
        """Make the fairest pack; the clock goes on by more than it was thought to take."""
        claim = self.ledger.claim("w/1")
        assert claim is not None
        self.clock.now += SLOW_S
        made = PackResult(number="1", files_key=claim.files_key, total=1)
        assert self.ledger.finish(claim, made)
        return claim.pack.id


@pytest.fixture
def room(ledger: Ledger, clock: Clock) -> Callable[[int], Room]:
    """Makes a room of so many students."""
    return lambda students: Room(ledger, clock, students)


def test_a_batch_of_two_hundred_delays_a_student_by_one_pack(room: Callable[[int], Room]) -> None:
    made = room(2)
    batch = made.batch(200)
    for done in range(120):
        assert made.make_one() == batch[done]
    held = made.ledger.claim("w/1")
    assert held is not None
    single = made.ask(1)
    # The one that is being made, and then theirs, however far behind its estimates it is.
    following = made.ledger.claim("w/2")
    assert following is not None
    assert following.pack.id == single


def test_a_batch_does_not_delay_the_student_it_is_made_for(room: Callable[[int], Room]) -> None:
    made = room(1)
    made.batch(50)
    made.make_one()
    assert made.ledger.claim("w/1")
    own = made.ask(0)
    following = made.ledger.claim("w/1")
    assert following is not None
    assert following.pack.id == own


def test_students_share_evenly_whoever_came_first(room: Callable[[int], Room]) -> None:
    made = room(3)
    whose = {made.ask(0): 0 for _ in range(6)}
    made.make_one()
    whose |= {made.ask(student): student for student in (1, 2) for _ in range(5)}
    order = [whose[made.make_one()] for _ in range(15)]
    for turn in range(0, 15, 3):
        assert set(order[turn : turn + 3]) == {0, 1, 2}


def test_nobody_gathers_turns_while_the_queue_is_empty(room: Callable[[int], Room]) -> None:
    made = room(2)
    for _ in range(10):
        made.ask(0)
        made.make_one()
    whose = {made.ask(1): 1 for _ in range(4)} | {made.ask(0): 0 for _ in range(4)}
    order = [whose[made.make_one()] for _ in range(8)]
    assert sorted(order[:2]) == sorted(order[2:4]) == [0, 1]


def test_one_person_has_so_many_packs_waiting_and_no_more(room: Callable[[int], Room]) -> None:
    made = room(2)
    bounds = Bounds(unfinished=3)
    made.batch(10)
    for _ in range(3):
        made.ask(0, bounds=bounds)
    with pytest.raises(TooManyUnfinished):
        made.ask(0, bounds=bounds)
    made.ask(1, bounds=bounds)
    for _ in range(14):
        made.make_one()
    made.ask(0, bounds=bounds)


def test_packs_and_pages_of_ones_own_are_counted(room: Callable[[int], Room]) -> None:
    made = room(1)
    made.batch(5)
    made.ask(0, bounds=Bounds(packs=2, pages=10), total=6)
    with pytest.raises(LimitReached, match="sheets"):
        made.ask(0, bounds=Bounds(packs=2, pages=10), total=5)
    made.ask(0, bounds=Bounds(packs=2, pages=10), total=4)
    with pytest.raises(LimitReached, match="packs"):
        made.ask(0, bounds=Bounds(packs=2, pages=90), total=1)


def test_a_refused_pack_costs_no_place(room: Callable[[int], Room]) -> None:
    made = room(2)
    for _ in range(50):
        with pytest.raises(LimitReached):
            made.ask(0, bounds=Bounds(packs=0))
    whose = {made.ask(1): 1 for _ in range(2)} | {made.ask(0): 0}
    assert 0 in [whose[made.make_one()] for _ in range(2)]


def test_nobody_but_a_lender_lends(room: Callable[[int], Room]) -> None:
    made = room(2)
    first, second = made.ids()
    foreign = NewPack(owner_id=first, reference_id=made.photos[second], spec={})
    with pytest.raises(NotFound):
        made.ledger.enqueue(foreign)
