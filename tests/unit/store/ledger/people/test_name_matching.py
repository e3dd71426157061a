"""When what a phone's keyboard gives is somebody's name on the roster."""

from __future__ import annotations

import unicodedata

import pytest

from worker.errors import NotOnRoster
from worker.store.ledger import Ledger, NewClass
from worker.store.ledger.people.name_matching import alike


@pytest.mark.parametrize(
    ("roster", "typed"),
    [
        ("Zoë Müller", "zoe muller"),
        ("Zoë Müller", "Zoe Mueller"),
        ("Łukasz Żółć", "lukasz zolc"),
        ("Đặng Thị Hương", "dang thi huong"),
        ("Şule Öz", unicodedata.normalize("NFD", "ŞULE ÖZ")),
        ("O'Brien, Seán", "Sean O’Brien"),
        ("Jörg Groß", "groß jorg"),
        ("Bjørn Åse", "Bjoern Aase"),
        ("Ελένη Παπαδοπούλου", "Ελενη Παπαδοπουλου"),
        ('Ann-Marie "Annie" Dubois', "Ann Marie Annie Dubois"),
    ],
)
def test_accents_signs_and_order_make_no_other_name(roster: str, typed: str) -> None:
    assert alike(roster, typed)


@pytest.mark.parametrize(
    ("roster", "typed"),
    # The last two differ in a vowel sign (Unicode, Devanagari and Arabic) alone.
    [("Ann Lee", "Ann"), ("Jon", "Jan"), ("!!", "?"), ("राम", "रमा"), ("عَلي", "عُلي")],
)
def test_another_name_is_another(roster: str, typed: str) -> None:
    assert not alike(roster, typed)


def test_one_joins_by_a_name_nearly_theirs_and_nobody_where_two_may_be_meant(
    ledger: Ledger,
) -> None:
    tutor, _ = ledger.people.add_tutor("Ada Bell")
    room = ledger.classes.add(NewClass(tutor_id=tutor.id, name="7b", joining_open=True))
    names = ["Zoë Müller", "José Vega", "Jose Vegá", "Jose Vega"]
    rows = ledger.students.add(room.id, tutor.id, names)
    person, _ = ledger.students.join(room.id, name="zoe muller")
    assert person.id == rows[0].id
    # Who is written just so comes first.
    assert ledger.students.join(room.id, name="jose vega")[0].id == rows[3].id
    with pytest.raises(NotOnRoster):
        ledger.students.join(room.id, name="Vega, José!")
