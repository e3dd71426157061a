"""Whoever puts an external id again gets the same person, whatever the person is called."""

from __future__ import annotations

import threading

import pytest

from tests.unit.store.ledger.sites.conftest import Room
from worker.errors import NotFound
from worker.store.ledger import Ledger, NewSite


def test_students_of_one_name_are_told_apart(ledger: Ledger, room: Room) -> None:
    put = ledger.external_ids.put_student
    first = put(room.class_id, room.site.id, "u-1", "Ann Lee")
    second = put(room.class_id, room.site.id, "u-2", "Ann Lee")
    again = put(room.class_id, room.site.id, "u-1", "Ann Lee")
    assert (first.made, second.made, again.made) == (True, True, False)
    assert again.person == first.person != second.person
    renamed = put(room.class_id, room.site.id, "u-1", "Ann Lee-Park")
    assert (renamed.person.id, renamed.person.name) == (first.person.id, "Ann Lee-Park")
    assert ledger.external_ids.student(room.class_id, room.site.id, "u-2") == second.person
    assert ledger.external_ids.by_person(room.site.id, room.class_id) == {
        first.person.id: "u-1",
        second.person.id: "u-2",
    }


def test_an_id_is_its_issuers_own_in_one_class(ledger: Ledger, room: Room) -> None:
    other = ledger.sites.add(NewSite(tutor_id=room.tutor, name="Other"))[0].id
    put = ledger.external_ids.put_student
    people = {
        put(class_id, issuer, "u-1", "Ann Lee").person.id
        for class_id, issuer in (
            (room.class_id, room.site.id),
            (room.class_id, other),
            (room.class_id, room.tutor),
            (room.other_class, other),
        )
    }
    assert len(people) == 4
    with pytest.raises(NotFound):
        put(room.other_class, room.site.id, "u-1", "Ann Lee")
    with pytest.raises(NotFound):
        ledger.external_ids.student(room.class_id, room.site.id, "u-9")


def test_a_student_and_a_tutor_may_have_one_id(ledger: Ledger, room: Room) -> None:
    student = ledger.external_ids.put_student(room.class_id, room.site.id, "u-1", "Ann")
    tutor = ledger.external_ids.put_tutor(room.class_id, room.site.id, "u-1", name="Ann")
    assert student.person.id != tutor.person.id
    assert ledger.external_ids.student(room.class_id, room.site.id, "u-1") == student.person


def test_two_requests_at_once_make_one_student(ledger: Ledger, room: Room) -> None:
    found: list[tuple[str, bool]] = []

    def put() -> None:
        placed = ledger.external_ids.put_student(room.class_id, room.site.id, "u-1", "Ann Lee")
        found.append((placed.person.id, placed.made))

    threads = [threading.Thread(target=put) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 8
    assert len({id_ for id_, _ in found}) == 1
    assert sum(made for _, made in found) == 1
    assert len(ledger.students.of_class(room.class_id)) == 3


def test_a_deleted_student_is_forgotten_and_made_anew(ledger: Ledger, room: Room) -> None:
    first = ledger.external_ids.put_student(room.class_id, room.site.id, "u-1", "Ann Lee")
    assert ledger.external_ids.of_person(first.person.id) == ("u-1",)
    ledger.students.delete(first.person.id, room.tutor)
    with pytest.raises(NotFound):
        ledger.external_ids.student(room.class_id, room.site.id, "u-1")
    second = ledger.external_ids.put_student(room.class_id, room.site.id, "u-1", "Ann Lee")
    assert second.made
    assert second.person.id != first.person.id


def test_two_requests_at_once_make_one_tutor_of_two_classes(ledger: Ledger, room: Room) -> None:
    ledger.sites.change(room.site.id, room.tutor, {"class_ids": [room.class_id, room.other_class]})
    found: list[str] = []

    def put(class_id: str) -> None:
        placed = ledger.external_ids.put_tutor(class_id, room.site.id, "t-1", name="Cem")
        found.append(placed.person.id)

    threads = [
        threading.Thread(target=put, args=(class_id,))
        for class_id in (room.class_id, room.other_class) * 3
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(found), len(set(found))) == (6, 1)
    classes = {one.id for one in ledger.classes.of_tutor(found[0])}
    assert classes == {room.class_id, room.other_class}
