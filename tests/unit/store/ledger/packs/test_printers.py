"""Printers in the ledger: one's own, shared ones, and that they go with whoever has them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.clock import Clock
from worker.errors import LimitReached, NotFound, ReadingImplausible
from worker.store.ledger import Ledger, NewClass, PrinterRow

MOST = 3


@pytest.fixture
def tutor(ledger: Ledger) -> str:
    return ledger.people.add_tutor("Ada")[0].id


@pytest.fixture
def class_id(ledger: Ledger, tutor: str) -> str:
    return ledger.classes.add(NewClass(tutor_id=tutor, name="Thursday 7b")).id


@pytest.fixture
def student(ledger: Ledger, tutor: str, class_id: str) -> str:
    (row,) = ledger.students.add(class_id, tutor, ["Kit"], None)
    return row.id


@pytest.fixture
def add(ledger: Ledger, clock: Clock) -> Callable[..., PrinterRow]:
    def add(owner_id: str, name: str = "Attic", class_id: str | None = None) -> PrinterRow:
        clock.now += 1
        row = PrinterRow(
            owner_id=owner_id,
            class_id=class_id,
            name=name,
            sheet_format="iso_a4_210x297mm",
            across_mm=199.2,
            margin_mm={"top": 3, "right": 3, "bottom": 18, "left": 3},
        )
        return ledger.printers.add(row, MOST)

    return add


def test_it_is_read_as_it_was_written(
    ledger: Ledger, clock: Clock, tutor: str, add: Callable[..., PrinterRow]
) -> None:
    row = add(tutor)
    assert row.created_at == clock.now
    assert ledger.printers.get(row.id, tutor) == row
    assert ledger.printers.own(tutor) == ledger.printers.seen(tutor) == (row,)


def test_a_student_sees_what_is_shared_and_changes_only_their_own(
    ledger: Ledger, tutor: str, class_id: str, student: str, add: Callable[..., PrinterRow]
) -> None:
    hidden, shared, own = add(tutor, "a"), add(tutor, "b", class_id), add(student, "c")
    assert ledger.printers.seen(student) == (shared, own)
    assert ledger.printers.own(student) == (own,)
    assert ledger.printers.get(shared.id, student) == shared
    for printer_id in (hidden.id, shared.id):
        with pytest.raises(NotFound):
            ledger.printers.change(printer_id, student, {"name": "mine"})
        with pytest.raises(NotFound):
            ledger.printers.delete(printer_id, student)
    with pytest.raises(NotFound):
        ledger.printers.change(own.id, student, {"class_id": class_id})
    with pytest.raises(NotFound):
        add(student, "d", class_id)
    assert ledger.printers.change(own.id, student, {"down_mm": 201.0}).down_mm == 201.0
    assert ledger.printers.change(own.id, student, {}).down_mm == 201.0


def test_of_two_changes_that_do_not_go_together_one_is_made(
    ledger: Ledger, tutor: str, add: Callable[..., PrinterRow]
) -> None:
    def check(row: PrinterRow) -> None:
        if row.across_mm is not None and row.down_mm is not None:
            raise ReadingImplausible("One at a time.", field="down_mm")

    def change(column: str) -> bool:
        together.wait(10)
        try:
            ledger.printers.change(row.id, tutor, {column: 199.0}, check)
        except ReadingImplausible:
            return False
        return True

    row, together = add(tutor), threading.Barrier(2)
    for _ in range(5):
        ledger.printers.change(row.id, tutor, {"across_mm": None, "down_mm": None}, check)
        with ThreadPoolExecutor(2) as pool:
            assert sorted(pool.map(change, ("across_mm", "down_mm"))) == [False, True]
        left = ledger.printers.get(row.id, tutor)
        assert sorted((left.across_mm is None, left.down_mm is None)) == [False, True]


def test_another_class_sees_nothing(
    ledger: Ledger, class_id: str, tutor: str, add: Callable[..., PrinterRow]
) -> None:
    row = add(tutor, "b", class_id)
    other = ledger.people.add_tutor("Eve")[0].id
    elsewhere = ledger.classes.add(NewClass(tutor_id=other, name="Noon")).id
    (stranger,) = ledger.students.add(elsewhere, other, ["Kit"], None)
    for who in (other, stranger.id, "local"):
        assert ledger.printers.seen(who) == ()
        assert not ledger.people.sees(who, "printer_id", row.id)
        with pytest.raises(NotFound):
            ledger.printers.get(row.id, who)
    with pytest.raises(NotFound):
        ledger.printers.change(row.id, tutor, {"class_id": elsewhere})


def test_nobody_has_more_than_the_most(
    ledger: Ledger, student: str, tutor: str, add: Callable[..., PrinterRow]
) -> None:
    for number in range(MOST):
        add(student, str(number))
    with pytest.raises(LimitReached):
        add(student)
    add(tutor)
    assert len(ledger.printers.own(student)) == MOST


def test_they_go_with_whoever_has_them(
    ledger: Ledger, tutor: str, class_id: str, student: str, add: Callable[..., PrinterRow]
) -> None:
    shared, own = add(tutor, "b", class_id), add(student, "c")
    ledger.students.delete(student, tutor)
    assert not ledger.people.sees(tutor, "printer_id", own.id)
    ledger.classes.delete(class_id, tutor)
    assert ledger.printers.get(shared.id, tutor).class_id is None
    ledger.people.erase(tutor)
    assert not ledger.people.sees(tutor, "printer_id", shared.id)
    with pytest.raises(NotFound):
        add(tutor)


def test_the_first_tutor_takes_over_what_was_there(
    ledger: Ledger, add: Callable[..., PrinterRow]
) -> None:
    row = add("local")
    first = ledger.people.add_tutor("Ada")[0].id
    assert ledger.printers.get(row.id, first).owner_id == first
    assert ledger.printers.own("local") == ()
