"""A session's token opens only while all that it stands on is there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.sites.conftest import ORIGIN, Room
from worker.errors import NotFound
from worker.store.ledger import SESSION_PREFIX, SESSION_S, Ledger
from worker.store.ledger.sites.sessions import MOST_EACH


def test_a_token_opens_for_its_student(ledger: Ledger, room: Room, clock: Clock) -> None:
    issued = ledger.sessions.start(room.session())
    assert issued.token.startswith(SESSION_PREFIX)
    opened = ledger.sessions.opened_by(issued.token)
    assert opened is not None
    person, session = opened
    assert (person.id, person.role) == (room.students[0], "student")
    assert session == issued.session
    assert session.ends_at - clock.now == SESSION_S == 600
    # It is no key, and no key is a token.
    assert ledger.people.opened_by(issued.token) is None
    assert ledger.sessions.opened_by(room.key.key) is None


ENDS: dict[str, Callable[[Ledger, Room], object]] = {
    "student deleted": lambda ledger, room: ledger.students.delete(room.students[0], room.tutor),
    "student withdrawn": lambda ledger, room: ledger.students.change(
        room.students[0], room.tutor, {"withdrawn": True}
    ),
    "class deleted": lambda ledger, room: ledger.classes.delete(room.class_id, room.tutor),
    "class taken from the site": lambda ledger, room: ledger.sites.change(
        room.site.id, room.tutor, {"class_ids": [room.other_class]}
    ),
    "origin taken from the site": lambda ledger, room: ledger.sites.change(
        room.site.id, room.tutor, {"origins": ["https://other.example"]}
    ),
    "key withdrawn": lambda ledger, room: ledger.people.withdraw_key(
        room.site.id, room.key.access.id
    ),
    "site expired": lambda ledger, room: ledger.sites.change(
        room.site.id, room.tutor, {"expires_at": 1.0}
    ),
    "site deleted": lambda ledger, room: ledger.sites.delete(room.site.id, room.tutor),
    "tutor deleted": lambda ledger, room: ledger.people.erase(room.tutor),
}


@pytest.mark.parametrize("what", ENDS)
def test_it_ends_with_what_it_stands_on(ledger: Ledger, room: Room, what: str) -> None:
    token = ledger.sessions.start(room.session()).token
    assert ledger.sessions.opened_by(token) is not None
    ENDS[what](ledger, room)
    assert ledger.sessions.opened_by(token) is None


def test_it_ends_after_its_time_and_is_forgotten(ledger: Ledger, room: Room, clock: Clock) -> None:
    issued = ledger.sessions.start(room.session())
    clock.now += SESSION_S - 1
    assert ledger.sessions.opened_by(issued.token) is not None
    assert ledger.sessions.of_site(issued.session.id, room.site.id) == issued.session
    clock.now += 1
    assert ledger.sessions.opened_by(issued.token) is None
    with pytest.raises(NotFound):
        ledger.sessions.of_site(issued.session.id, room.site.id)
    ledger.forget_expired_keys()
    assert not ledger.people.sees(room.site.id, "session_id", issued.session.id)


def test_what_the_site_may_no_longer_do_a_session_may_not_either(
    ledger: Ledger, room: Room
) -> None:
    token = ledger.sessions.start(room.session()).token
    ledger.sites.change(room.site.id, room.tutor, {"scopes": ["fetch-packs", "start-sessions"]})
    opened = ledger.sessions.opened_by(token)
    assert opened is not None
    assert opened[1].scopes == ("fetch-packs",)


def test_none_starts_for_a_student_elsewhere(ledger: Ledger, room: Room) -> None:
    elsewhere = ledger.students.add(room.other_class, room.tutor, ["Bo Ek"])[0].id
    for student in (elsewhere, "stu_nobody", room.tutor):
        with pytest.raises(NotFound) as caught:
            ledger.sessions.start(replace(room.session(), student_id=student))
        assert caught.value.field == "student_id"


def test_the_oldest_of_many_end(ledger: Ledger, room: Room, clock: Clock) -> None:
    tokens = []
    for _ in range(MOST_EACH + 2):
        clock.now += 1
        tokens.append(ledger.sessions.start(room.session()).token)
    other = ledger.sessions.start(room.session(1)).token
    live = [ledger.sessions.opened_by(one) is not None for one in tokens]
    assert live == [False, False, *[True] * MOST_EACH]
    assert ledger.sessions.opened_by(other) is not None


def test_a_site_ends_its_own_sessions_only(ledger: Ledger, room: Room) -> None:
    issued = ledger.sessions.start(room.session())
    with pytest.raises(NotFound):
        ledger.sessions.end(issued.session.id, room.tutor)
    ledger.sessions.end(issued.session.id, room.site.id)
    assert ledger.sessions.opened_by(issued.token) is None
    assert issued.session.origin == ORIGIN
