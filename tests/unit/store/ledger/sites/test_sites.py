"""A course site reaches the classes that it was given, and nothing is lost when it goes."""

from __future__ import annotations

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from tests.unit.store.ledger.sites.conftest import ORIGIN, Room
from worker.errors import LimitReached, NotFound
from worker.store.ledger import (
    DEFAULT_SCOPES,
    LOCAL_OWNER,
    Ledger,
    NewClass,
    NewPack,
    NewSite,
    PrinterRow,
)
from worker.store.ledger.people.access_keys import LAUNCHED_S
from worker.store.ledger.sites.records import SITE_S
from worker.store.ledger.sites.sites import MOST_SITES


def test_a_site_has_the_limits_that_its_tutor_set(ledger: Ledger, room: Room) -> None:
    assert room.site.class_ids == (room.class_id,)
    assert (room.site.scopes, room.site.origins) == (DEFAULT_SCOPES, (ORIGIN,))
    assert room.site.expires_at == pytest.approx(room.site.created_at + SITE_S)
    assert not {"delete-packs", "delete-students"} & set(DEFAULT_SCOPES)
    assert ledger.sites.of_tutor(room.tutor) == (room.site,)
    changes = {"name": "Evening school", "scopes": ["read-class"], "class_ids": [room.other_class]}
    changed = ledger.sites.change(room.site.id, room.tutor, changes)
    assert (changed.name, changed.scopes) == ("Evening school", ("read-class",))
    assert changed.class_ids == (room.other_class,)
    assert changed.origins == (ORIGIN,)


def test_a_site_without_classes_named_gets_those_there_are(ledger: Ledger, room: Room) -> None:
    site, _ = ledger.sites.add(NewSite(tutor_id=room.tutor, name="All"))
    assert set(site.class_ids) == {room.class_id, room.other_class}
    later = ledger.classes.add(NewClass(tutor_id=room.tutor, name="Later")).id
    assert later not in ledger.sites.find(site.id).class_ids


def test_a_site_sees_its_classes_and_no_other(ledger: Ledger, room: Room) -> None:
    assert [one.id for one in ledger.classes.of_tutor(room.site.id)] == [room.class_id]
    for kind, id_ in (("class_id", room.class_id), ("student_id", room.students[0])):
        assert ledger.people.sees(room.site.id, kind, id_)
    other = ledger.students.add(room.other_class, room.tutor, ["Bo Ek"])[0].id
    for kind, id_ in (("class_id", room.other_class), ("student_id", other)):
        assert not ledger.people.sees(room.site.id, kind, id_)
    own = Asker(ledger, room.tutor)
    assert not ledger.people.sees(room.site.id, "reference_id", own.reference.id)
    assert not ledger.people.sees(room.site.id, "pack_id", own.ask().id)


def test_its_tutor_sees_what_a_site_makes_for_itself(ledger: Ledger, room: Room) -> None:
    asker = Asker(ledger, room.site.id)
    pack = asker.ask()
    assert ledger.pack(pack.id, room.tutor).owner_id == room.site.id
    assert ledger.people.sees(room.tutor, "reference_id", asker.reference.id)
    stranger = ledger.people.add_tutor("Ben")[0].id
    with pytest.raises(NotFound):
        ledger.pack(pack.id, stranger)


def test_a_class_of_somebody_else_is_given_to_no_site(ledger: Ledger, room: Room) -> None:
    other = ledger.people.add_tutor("Ben")[0].id
    with pytest.raises(NotFound) as caught:
        ledger.sites.add(NewSite(tutor_id=other, name="Mine", class_ids=(room.class_id,)))
    assert caught.value.field == "class_ids"
    assert ledger.sites.of_tutor(other) == ()
    for call in (ledger.sites.get, ledger.sites.delete):
        with pytest.raises(NotFound):
            call(room.site.id, other)
    with pytest.raises(NotFound):
        ledger.sites.change(room.site.id, other, {"name": "Mine"})


def test_a_tutor_has_a_bounded_number_of_sites(ledger: Ledger, room: Room) -> None:
    for _ in range(MOST_SITES - 1):
        ledger.sites.add(NewSite(tutor_id=room.tutor, name="Again"))
    with pytest.raises(LimitReached):
        ledger.sites.add(NewSite(tutor_id=room.tutor, name="Again"))


def test_a_deleted_site_takes_no_students_pack_along(ledger: Ledger, room: Room) -> None:
    """The photo that it lent, its own pack and its printer become its tutor's."""
    asker = Asker(ledger, room.site.id)
    student = room.students[0]
    lent = ledger.enqueue(
        NewPack(owner_id=student, payer_id=room.site.id, reference_id=asker.reference.id, spec={})
    )
    own = asker.ask()
    printer = ledger.printers.add(
        PrinterRow(owner_id=room.site.id, name="Attic", sheet_format="iso_a4_210x297mm"), 3
    )
    named = ledger.external_ids.put_student(room.class_id, room.site.id, "u-7", "Zoë Müller")
    ledger.sites.delete(room.site.id, room.tutor)
    assert ledger.people.opened_by(room.key.key) is None
    assert ledger.sites.of_tutor(room.tutor) == ()
    assert ledger.reference(asker.reference.id, room.tutor).owner_id == room.tutor
    assert ledger.pack(lent.id, student).payer_id == room.tutor
    after = ledger.pack(own.id, room.tutor)
    assert (after.owner_id, after.payer_id) == (room.tutor, None)
    assert ledger.printers.get(printer.id, room.tutor).owner_id == room.tutor
    # Students stay, and nobody knows them by the site's ids any more.
    roster = [one.id for one in ledger.students.of_class(room.class_id)]
    assert named.person.id in roster
    assert ledger.external_ids.of_person(named.person.id) == ()
    again = ledger.external_ids.put_student(room.class_id, room.tutor, "u-7", "Zoë Müller")
    assert again.made


def test_a_tutor_who_goes_takes_their_sites_along(ledger: Ledger, room: Room) -> None:
    ledger.external_ids.put_tutor(room.class_id, room.site.id, "t-1", name="Cem")
    ledger.people.erase(room.tutor)
    with pytest.raises(NotFound):
        ledger.sites.find(room.site.id)
    assert ledger.people.tutors() == ()
    assert ledger.people.opened_by(room.key.key) is None


def test_an_origin_is_known_while_a_site_names_it(ledger: Ledger, room: Room, clock: Clock) -> None:
    assert ledger.sites.names_origin(room.site.origins[0])
    assert not ledger.sites.names_origin("https://elsewhere.example")
    clock.now += SITE_S
    assert not ledger.sites.names_origin(ORIGIN)


def test_local_has_no_sites(ledger: Ledger) -> None:
    assert ledger.sites.of_tutor(LOCAL_OWNER) == ()


def test_keys_that_a_launch_led_to_go_with_the_site(
    ledger: Ledger, room: Room, clock: Clock
) -> None:
    placed = ledger.external_ids.put_tutor(room.class_id, room.site.id, "t-1", name="Cem")
    cem = placed.person.id
    launched = ledger.people.issue_key(cem, "Course pages", via_site=room.site.id)
    browser = ledger.people.sign_in(launched.access.id)
    assert browser.access.via_site == room.site.id
    # Named by their system again, they have that name: a launch's key is not their own.
    ledger.external_ids.put_tutor(room.class_id, room.site.id, "t-1", name="Cem Ak")
    assert ledger.people.person(cem).name == "Cem Ak"
    # Used or not, it lasts a day at school: then another launch shows that they still teach.
    clock.now += LAUNCHED_S - 1
    assert ledger.people.opened_by(browser.key) is not None
    clock.now += 1
    assert ledger.people.opened_by(browser.key) is None
    again = ledger.people.sign_in(launched.access.id)
    ledger.sites.delete(room.site.id, room.tutor)
    assert ledger.people.opened_by(again.key) is None
    assert [one.name for one in ledger.people.tutors()] == ["Ada"]


def test_whom_the_class_s_own_tutor_named_too_stays(ledger: Ledger, room: Room) -> None:
    placed = ledger.external_ids.put_tutor(room.class_id, room.site.id, "t-1", name="Cem")
    cem = placed.person.id
    ledger.external_ids.put_tutor(room.class_id, room.tutor, "cem", tutor_id=cem)
    ledger.people.issue_key(cem, "own")
    ledger.sites.delete(room.site.id, room.tutor)
    assert [one.id for one in ledger.classes.of_tutor(cem)] == [room.class_id]
