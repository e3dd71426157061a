"""A second tutor does in a class what its own tutor does, but does not delete it."""

from __future__ import annotations

import pytest

from tests.unit.store.ledger.conftest import Asker
from worker.errors import LimitReached, NotFound
from worker.store.ledger import BatchItemRow, BatchRow, Ledger, NewClass, NewItem, NewPack, NewSite
from worker.store.ledger.people.second_tutors import MOST_TUTORS


@pytest.fixture
def ada(ledger: Ledger) -> str:
    return ledger.people.add_tutor("Ada")[0].id


@pytest.fixture
def ben(ledger: Ledger, ada: str) -> str:
    assert ada
    return ledger.people.add_tutor("Ben")[0].id


@pytest.fixture
def class_id(ledger: Ledger, ada: str) -> str:
    return ledger.classes.add(NewClass(tutor_id=ada, name="Noon")).id


def test_who_is_added_teaches_and_does_not_delete(
    ledger: Ledger, ada: str, ben: str, class_id: str
) -> None:
    student = ledger.students.add(class_id, ada, ["Ann Lee"])[0].id
    assert not ledger.people.sees(ben, "student_id", student)
    placed = ledger.external_ids.put_tutor(class_id, ada, "ben", tutor_id=ben)
    assert (placed.person.id, placed.made, placed.person.name) == (ben, False, "Ben")
    assert [one.id for one in ledger.classes.of_tutor(ben)] == [class_id]
    assert ledger.students.change(student, ben, {"name": "Ann"}).name == "Ann"
    pack = Asker(ledger, student).ask()
    assert ledger.pack(pack.id, ben) == pack
    with pytest.raises(NotFound):
        ledger.classes.delete(class_id, ben)
    with pytest.raises(NotFound):
        ledger.sites.add(NewSite(tutor_id=ben, name="Pages", class_ids=(class_id,)))
    names = [(one.name, one.owns) for one in ledger.second_tutors.of_class(class_id, ben)]
    assert names == [("Ada", True), ("Ben", False)]
    # What is the first tutor's own stays theirs.
    own = Asker(ledger, ada)
    assert not ledger.people.sees(ben, "reference_id", own.reference.id)


def test_a_classs_batch_is_seen_whole_by_all_its_tutors(
    ledger: Ledger, ada: str, ben: str, class_id: str
) -> None:
    """Also the copy for nobody in particular, and the photo that it is made of."""
    ledger.external_ids.put_tutor(class_id, ada, "ben", tutor_id=ben)
    asker = Asker(ledger, ada)
    batch = BatchRow(class_id=class_id)
    pack = NewPack(owner_id=ada, payer_id=ada, reference_id=asker.reference.id, spec={})
    line = BatchItemRow(
        batch_id=batch.id, position=0, pack_id=pack.id, reference_id=asker.reference.id
    )
    ledger.batches.add(batch, ada, [NewItem(row=line, pack=pack)])
    assert ledger.pack(pack.id, ben).owner_id == ada
    assert ledger.reference(asker.reference.id, ben).owner_id == ada
    with pytest.raises(NotFound):
        ledger.delete_reference(asker.reference.id, ben)
    stranger = ledger.people.add_tutor("Cem")[0].id
    for call, id_ in ((ledger.pack, pack.id), (ledger.reference, asker.reference.id)):
        with pytest.raises(NotFound):
            call(id_, stranger)


def test_who_is_removed_sees_nothing_more(
    ledger: Ledger, ada: str, ben: str, class_id: str
) -> None:
    ledger.external_ids.put_tutor(class_id, ada, "ben", tutor_id=ben)
    ledger.second_tutors.remove(class_id, ben)
    assert ledger.classes.of_tutor(ben) == ()
    assert not ledger.people.sees(ben, "class_id", class_id)
    # They have a key, so they stay; the id that they had here is forgotten.
    assert ledger.people.person(ben).name == "Ben"
    assert ledger.external_ids.of_person(ben) == ()
    for tutor in (ben, ada):
        with pytest.raises(NotFound):
            ledger.second_tutors.remove(class_id, tutor)


def test_who_was_brought_and_never_had_a_key_goes_with_the_class(
    ledger: Ledger, ada: str, class_id: str
) -> None:
    brought = ledger.external_ids.put_tutor(class_id, ada, "t-1", name="Cem").person.id
    asker = Asker(ledger, brought)
    student = ledger.students.add(class_id, ada, ["Ann Lee"])[0].id
    lent = ledger.enqueue(
        NewPack(owner_id=student, payer_id=brought, reference_id=asker.reference.id, spec={})
    )
    ledger.second_tutors.remove(class_id, brought)
    with pytest.raises(NotFound):
        ledger.people.person(brought)
    assert ledger.reference(asker.reference.id, ada).owner_id == ada
    assert ledger.pack(lent.id, student).payer_id == ada


def test_a_site_that_goes_takes_the_tutors_along_that_it_brought(
    ledger: Ledger, ada: str, ben: str, class_id: str
) -> None:
    site = ledger.sites.add(NewSite(tutor_id=ada, name="Pages"))[0].id
    brought = ledger.external_ids.put_tutor(class_id, site, "t-1", name="Cem").person.id
    ledger.external_ids.put_tutor(class_id, ada, "ben", tutor_id=ben)
    ledger.sites.delete(site, ada)
    with pytest.raises(NotFound):
        ledger.people.person(brought)
    assert [one.id for one in ledger.second_tutors.of_class(class_id, ada)] == [ada, ben]


def test_a_name_is_changed_by_who_brought_it_only(
    ledger: Ledger, ada: str, ben: str, class_id: str
) -> None:
    put = ledger.external_ids.put_tutor
    assert put(class_id, ada, "t-1", name="Cem").person.name == "Cem"
    assert put(class_id, ada, "t-1", name="Cem Ay").person.name == "Cem Ay"
    put(class_id, ada, "ben", tutor_id=ben)
    assert put(class_id, ada, "ben", name="Mallory").person.name == "Ben"
    with pytest.raises(NotFound) as caught:
        put(class_id, ada, "x", tutor_id="tut_nobody")
    assert caught.value.field == "tutor_id"


def test_a_class_has_a_bounded_number_of_tutors(ledger: Ledger, ada: str, class_id: str) -> None:
    for number in range(MOST_TUTORS):
        ledger.external_ids.put_tutor(class_id, ada, f"t-{number}", name="Cem")
    with pytest.raises(LimitReached):
        ledger.external_ids.put_tutor(class_id, ada, "one more", name="Cem")
