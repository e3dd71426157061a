"""What a site did is read by the class's tutors, for a bounded time."""

from __future__ import annotations

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from tests.unit.store.ledger.sites.conftest import Room
from worker.errors import NotFound
from worker.store.ledger import Ledger, LogRow, Page
from worker.store.ledger.sites.records import LOG_S


def _add(ledger: Ledger, room: Room, action: str, class_id: str | None) -> None:
    ledger.site_log.add(
        LogRow(
            site_id=room.site.id,
            key_id=room.key.access.id,
            class_id=class_id,
            action=action,
            about=room.students[0],
        )
    )


def test_a_class_and_a_site_have_their_lines_the_newest_first(
    ledger: Ledger, room: Room, clock: Clock
) -> None:
    for number in range(5):
        _add(ledger, room, f"a{number}", room.class_id if number % 2 else None)
        clock.now += number % 3
    log = ledger.site_log
    assert [one.action for one in log.of_class(room.class_id, room.tutor)] == ["a3", "a1"]
    whole = log.of_site(room.site.id)
    assert {one.action for one in whole} == {f"a{number}" for number in range(5)}
    # Two lines a page, and the one that tells of more.
    assert log.of_site(room.site.id, Page(limit=2)) == whole[:3]
    after = (whole[1].at, whole[1].id)
    assert log.of_site(room.site.id, Page(limit=2, after=after)) == whole[2:5]


def test_nobody_else_reads_it(ledger: Ledger, room: Room) -> None:
    _add(ledger, room, "made", room.class_id)
    stranger = ledger.people.add_tutor("Ben")[0].id
    with pytest.raises(NotFound):
        ledger.site_log.of_class(room.class_id, stranger)


def test_it_outlives_the_site_and_not_the_class_or_its_time(
    ledger: Ledger, room: Room, clock: Clock
) -> None:
    _add(ledger, room, "made", room.class_id)
    ledger.sites.delete(room.site.id, room.tutor)
    assert len(ledger.site_log.of_class(room.class_id, room.tutor)) == 1
    clock.now += LOG_S - 1
    ledger.forget_expired_keys()
    assert len(ledger.site_log.of_class(room.class_id, room.tutor)) == 1
    clock.now += 1
    ledger.forget_expired_keys()
    assert ledger.site_log.of_class(room.class_id, room.tutor) == ()
    _add(ledger, room, "made", room.class_id)
    ledger.classes.delete(room.class_id, room.tutor)
    _add(ledger, room, "later", room.class_id)
    assert ledger.site_log.of_site(room.site.id) == ()


def test_the_class_of_a_thing_is_found_by_its_id(ledger: Ledger, room: Room) -> None:
    asker = Asker(ledger, room.students[0])
    pack = asker.ask()
    for id_ in (pack.id, asker.reference.id, room.students[0], room.class_id):
        assert ledger.site_log.class_of([id_]) == room.class_id
    assert ledger.site_log.class_of([room.tutor, Asker(ledger, room.tutor).reference.id]) is None
    assert ledger.site_log.class_of([room.tutor, pack.id]) == room.class_id
