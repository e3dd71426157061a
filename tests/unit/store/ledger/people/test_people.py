"""Tutors, keys and rosters, as the ledger knows them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.errors import LimitReached, NotFound, RosterChanged, RosterFull, TutorExists
from worker.spec.short_codes import LETTERS, read_code, shown_code
from worker.store.ledger import (
    DAY_S,
    ClassSettings,
    IssuedKey,
    Ledger,
    NewClass,
    NewPack,
    NewSite,
    Person,
    PrinterRow,
    ReferenceRow,
)
from worker.store.ledger.people.access_keys import MOST_SIGN_INS
from worker.store.ledger.people.credentials import new_code
from worker.store.ledger.people.people import MOST_KEYS
from worker.store.ledger.people.records import SIGN_IN_DAYS
from worker.store.ledger.people.students import MOST_STUDENTS


def person_with(ledger: Ledger, key: str) -> Person | None:
    """The person whom a key opens to."""
    opened = ledger.people.opened_by(key)
    return opened and opened[0]


def test_a_key_opens_until_it_is_withdrawn(ledger: Ledger) -> None:
    tutor, issued = ledger.people.add_tutor("Ada", "laptop")
    assert issued.key.startswith("rck_")
    assert person_with(ledger, issued.key) == tutor
    assert ledger.people.opened_by(issued.key + "x") is None
    second = ledger.people.issue_key(tutor.id, "tablet")
    assert {one.label for one in ledger.people.keys(tutor.id)} == {"laptop", "tablet"}
    ledger.people.withdraw_key(tutor.id, issued.access.id)
    assert ledger.people.opened_by(issued.key) is None
    assert person_with(ledger, second.key) == tutor
    with pytest.raises(NotFound):
        ledger.people.withdraw_key(tutor.id, issued.access.id)


def test_nobody_has_more_keys_than_devices(ledger: Ledger) -> None:
    tutor = ledger.people.add_tutor("Ada")[0].id
    for _ in range(MOST_KEYS - 1):
        ledger.people.issue_key(tutor)
    with pytest.raises(LimitReached):
        ledger.people.issue_key(tutor)
    # Who has lost them all gets one all the same.
    assert ledger.people.opened_by(ledger.people.issue_key(tutor, replace=True).key)
    assert len(ledger.people.keys(tutor)) == 1


def test_the_use_of_a_key_is_written_down_once_an_hour(ledger: Ledger, clock: Clock) -> None:
    tutor, issued = ledger.people.add_tutor("Ada")

    def used() -> float | None:
        assert ledger.people.opened_by(issued.key)
        return ledger.people.keys(tutor.id)[0].last_used_at

    first = used()
    assert first == clock.now
    clock.now += 3599
    assert used() == first
    clock.now += 2
    assert used() == clock.now


def browser(ledger: Ledger, issued: IssuedKey) -> str:
    """A browser signs in with a key; what it keeps."""
    key = ledger.people.sign_in(issued.access.id).key
    assert key.startswith("rcs_")
    return key


def test_signing_out_withdraws_the_browser_and_no_key(ledger: Ledger) -> None:
    tutor, issued = ledger.people.add_tutor("Ada")
    here, there = browser(ledger, issued), browser(ledger, issued)
    assert person_with(ledger, here) == person_with(ledger, there) == tutor
    assert ledger.people.sign_out(here) is not None
    assert ledger.people.sign_out(here) is None
    # A key is no sign-in: nobody loses it by signing out.
    assert ledger.people.sign_out(issued.key) is None
    assert ledger.people.opened_by(here) is None
    assert person_with(ledger, there) == person_with(ledger, issued.key) == tutor


def test_a_browser_that_is_used_stays_signed_in_and_one_that_is_not_does_not(
    ledger: Ledger, clock: Clock
) -> None:
    _, issued = ledger.people.add_tutor("Ada")
    used, unused = browser(ledger, issued), browser(ledger, issued)
    lasts_s = SIGN_IN_DAYS * DAY_S
    for _ in range(4):
        clock.now += lasts_s / 2
        assert ledger.people.opened_by(used)
    assert ledger.people.opened_by(unused) is None
    left = ledger.people.keys(issued.access.owner_id)
    assert sorted(one.is_sign_in for one in left) == [False, True]
    clock.now += lasts_s
    assert ledger.people.opened_by(used) is None
    # The key itself has no end.
    assert ledger.people.opened_by(issued.key)
    assert rows(ledger) == 3
    ledger.forget_expired_keys()
    assert rows(ledger) == 1


def rows(ledger: Ledger) -> int:
    """How many keys and sign-ins are written anywhere."""
    with ledger._database.reading() as connection:
        return int(connection.exec_driver_sql("select count(*) from access_keys").scalar_one())


def test_a_key_takes_the_browsers_along_that_came_in_with_it(ledger: Ledger) -> None:
    tutor, first = ledger.people.add_tutor("Ada")
    second = ledger.people.issue_key(tutor.id, "tablet")
    lost, kept = browser(ledger, second), browser(ledger, first)
    ledger.people.withdraw_key(tutor.id, second.access.id)
    assert ledger.people.opened_by(lost) is None
    assert person_with(ledger, kept) == tutor
    with pytest.raises(NotFound):
        ledger.people.sign_in(second.access.id)
    # From another device, one browser or all.
    (seen,) = [one for one in ledger.people.keys(tutor.id) if one.is_sign_in]
    ledger.people.withdraw_key(tutor.id, seen.id)
    assert ledger.people.opened_by(kept) is None
    again = browser(ledger, first)
    ledger.people.withdraw_key(tutor.id)
    assert ledger.people.opened_by(again) is None


def test_a_browser_signs_no_other_in(ledger: Ledger) -> None:
    _, issued = ledger.people.add_tutor("Ada")
    access = ledger.people.sign_in(issued.access.id).access
    with pytest.raises(NotFound):
        ledger.people.sign_in(access.id)


def test_signing_in_over_and_over_fills_nothing(ledger: Ledger, clock: Clock) -> None:
    tutor, issued = ledger.people.add_tutor("Ada")
    first = browser(ledger, issued)
    for _ in range(MOST_SIGN_INS):
        clock.now += 1
        newest = browser(ledger, issued)
    assert ledger.people.opened_by(first) is None
    assert person_with(ledger, newest) == tutor
    assert len(ledger.people.keys(tutor.id)) == MOST_SIGN_INS + 1
    # They count among no keys.
    assert ledger.people.issue_key(tutor.id, "tablet")


def test_of_two_first_tutors_there_is_one(ledger: Ledger) -> None:
    refused: list[str] = []

    def come(name: str) -> None:
        try:
            ledger.people.add_tutor(name, only_first=True)
        except TutorExists:
            refused.append(name)

    threads = [threading.Thread(target=come, args=(str(number),)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(ledger.people.tutors()), len(refused)) == (1, 5)


def test_the_first_tutor_takes_over_and_the_second_does_not(ledger: Ledger, asker: Asker) -> None:
    pack = asker.ask()
    first, _ = ledger.people.add_tutor("Ada")
    second, _ = ledger.people.add_tutor("Ben")
    assert ledger.pack(pack.id, first.id).owner_id == first.id
    with pytest.raises(NotFound):
        ledger.pack(pack.id, second.id)
    with pytest.raises(NotFound):
        asker.look(pack)


GETS: dict[str, Callable[[Ledger, str, str], object]] = {
    "photo": lambda ledger, who, _: ledger.add_reference(
        ReferenceRow(owner_id=who, width_px=1, height_px=1, format="jpeg", sha256="0" * 64)
    ),
    "pack of a photo that is lent": lambda ledger, who, lent: ledger.enqueue(
        NewPack(owner_id=who, payer_id="local", reference_id=lent, spec={})
    ),
    "printer": lambda ledger, who, _: ledger.printers.add(
        PrinterRow(owner_id=who, name="Attic", sheet_format="iso_a4_210x297mm"), 3
    ),
    "class": lambda ledger, who, _: ledger.classes.add(NewClass(tutor_id=who, name="Noon")),
    "course site": lambda ledger, who, _: ledger.sites.add(
        NewSite(tutor_id=who, name="Course pages")
    ),
    "key": lambda ledger, who, _: ledger.people.issue_key(who),
    "answer": lambda ledger, who, _: ledger.begin(who, "k", "f"),
}


@pytest.mark.parametrize("what", GETS)
def test_who_was_deleted_a_moment_ago_gets_nothing_more(ledger: Ledger, what: str) -> None:
    gone = ledger.people.add_tutor("Ada")[0].id
    lent = Asker(ledger).reference.id
    ledger.people.erase(gone)
    with pytest.raises(NotFound):
        GETS[what](ledger, gone, lent)


def test_codes_are_read_as_people_write_them() -> None:
    for _ in range(50):
        code = new_code()
        assert set(code) <= set(LETTERS)
        assert read_code(shown_code(code).lower()) == code
    assert read_code("o0il-1LIO") == "00111110"


def test_settings_come_back_as_they_were_and_grow(ledger: Ledger) -> None:
    tutor, _ = ledger.people.add_tutor("Ada")
    settings = ClassSettings(defaults={"rotate_deg": 3}, may_change=("crop",), photos=None)
    row = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon", settings=settings))
    assert ledger.classes.get(row.id, tutor.id) == row
    assert ClassSettings.from_json({"keep_days": 3, "from_tomorrow": 1}).keep_days == 3
    changed = ledger.classes.change(
        row.id, tutor.id, {"name": "Eve", "settings": replace(settings, pages=9)}
    )
    assert (changed.name, changed.settings.pages, changed.settings.photos) == ("Eve", 9, None)
    assert ledger.classes.by_code(shown_code(row.join_code)).id == row.id


def test_a_roster_keeps_its_order_and_its_bounds(ledger: Ledger) -> None:
    tutor, _ = ledger.people.add_tutor("Ada")
    row = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon"))
    names = [f"S{number:03}" for number in range(MOST_STUDENTS)]
    ledger.students.add(row.id, tutor.id, names[:2])
    ledger.students.add(row.id, tutor.id, names[2:])
    roster = ledger.students.of_class(row.id)
    assert [one.name for one in roster] == names
    assert [one.position for one in roster] == list(range(MOST_STUDENTS))
    with pytest.raises(RosterFull):
        ledger.students.add(row.id, tutor.id, ["one more"])
    with pytest.raises(NotFound):
        ledger.students.add(row.id, "tut_nobody", ["one more"])


def test_a_roster_is_put_in_order_whole_or_not_at_all(ledger: Ledger) -> None:
    tutor, _ = ledger.people.add_tutor("Ada")
    other, _ = ledger.people.add_tutor("Bea")
    row = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon"))
    ids = [one.id for one in ledger.students.add(row.id, tutor.id, ["A", "B", "C"])]
    wanted = [ids[2], ids[0], ids[1]]
    again = ledger.students.reorder(row.id, tutor.id, wanted)
    assert [(one.id, one.position) for one in again] == list(zip(wanted, range(3), strict=True))
    assert ledger.students.of_class(row.id) == again
    for wrong in (ids[:2], [*ids, ids[0]], [ids[0], ids[0], ids[1]], [*ids[:2], "stu_stranger"]):
        with pytest.raises(RosterChanged):
            ledger.students.reorder(row.id, tutor.id, wrong)
    with pytest.raises(NotFound):
        ledger.students.reorder(row.id, other.id, ids)
    assert ledger.students.of_class(row.id) == again


def test_of_two_devices_one_gets_the_place(ledger: Ledger) -> None:
    tutor, _ = ledger.people.add_tutor("Ada")
    row = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Noon", joining_open=True))
    ledger.students.add(row.id, tutor.id, ["Kit"])
    joined: list[str] = []

    def join() -> None:
        try:
            joined.append(ledger.students.join(row.id, name="kit")[1].key)
        except Exception as error:  # noqa: BLE001 -- Whatever refuses, it is told below.
            refused.append(type(error).__name__)

    refused: list[str] = []
    threads = [threading.Thread(target=join) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(joined), refused) == (1, ["NameTaken"] * 5)
