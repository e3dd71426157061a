"""Platforms, their courses, logins and results, in the ledger; on both databases."""

from __future__ import annotations

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.errors import LimitReached, NotFound
from worker.store.ledger import Ledger, LoginRow, NewClass, NewPlatform, PackResult, PlatformRow
from worker.store.ledger.lti import launches, platforms
from worker.store.ledger.lti.records import LAUNCH_S, LOGIN_S


@pytest.fixture
def tutor(ledger: Ledger) -> str:
    return ledger.people.add_tutor("Ada")[0].id


def new(tutor: str, client_id: str = "here") -> NewPlatform:
    """A platform as the operator registers it."""
    base = "https://platform.example"
    return NewPlatform(
        tutor_id=tutor,
        name="Course pages",
        issuer=base,
        client_id=client_id,
        deployment_ids=("1", "2"),
        auth_url=f"{base}/auth",
        token_url=f"{base}/token",
        jwks_url=f"{base}/jwks",
        origins=(base,),
    )


@pytest.fixture
def platform(ledger: Ledger, tutor: str) -> PlatformRow:
    return ledger.platforms.add(new(tutor))


def begin(ledger: Ledger, platform: PlatformRow, state: str) -> None:
    """Begin a login."""
    secrets = {"state": state, "nonce": f"n{state}", "browser": f"b{state}"}
    where = {"platform_id": platform.id, "target_link_uri": "https://here.example/lti/launch"}
    ledger.launches.begin(LoginRow(**secrets, **where, in_storage=False))


def test_a_platform_is_read_as_it_was_added(ledger: Ledger, platform: PlatformRow) -> None:
    assert ledger.platforms.get(platform.id) == platform
    assert ledger.platforms.all() == (platform,)
    assert ledger.platforms.registered(platform.issuer) == (platform,)
    assert ledger.platforms.registered(platform.issuer, "other") == ()
    assert ledger.platforms.registered("https://other.example") == ()


def test_one_client_of_an_issuer_is_one_platform(ledger: Ledger, platform: PlatformRow) -> None:
    tutor = ledger.sites.find(platform.site_id).tutor_id
    with pytest.raises(LimitReached):
        ledger.platforms.add(new(tutor))
    assert len(ledger.sites.of_tutor(tutor)) == 1
    ledger.platforms.add(new(tutor, "another"))
    assert len(ledger.platforms.registered(platform.issuer)) == 2


def test_a_course_is_one_class(ledger: Ledger, platform: PlatformRow, tutor: str) -> None:
    first = ledger.platforms.open_context(platform, "1", "c7", "Drawing")
    assert ledger.platforms.open_context(platform, "1", "c7", "Another name") == first
    # The same id in another deployment is another course (LTI 1.3 Core, 5.4.1).
    other = ledger.platforms.open_context(platform, "2", "c7", "Drawing")
    assert other.class_id != first.class_id
    assert ledger.sites.find(platform.site_id).class_ids == tuple(
        sorted((first.class_id, other.class_id))
    )
    ledger.classes.delete(first.class_id, tutor)
    assert ledger.platforms.context(platform.id, "1", "c7") is None


def test_courses_are_bounded(
    ledger: Ledger, platform: PlatformRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(platforms, "MOST_CONTEXTS", 1)
    ledger.platforms.open_context(platform, "1", "c7", "Drawing")
    with pytest.raises(LimitReached):
        ledger.platforms.open_context(platform, "1", "c8", "Drawing")


def test_several_courses_may_be_one_class(
    ledger: Ledger, platform: PlatformRow, tutor: str
) -> None:
    row = ledger.classes.add(NewClass(tutor_id=tutor, name="Evening"))
    for context in ("c7", "c8", "c8"):
        assert ledger.platforms.bind(platform, "1", context, row.id).class_id == row.id
    known = ledger.platforms.context(platform.id, "1", "c8")
    assert known is not None
    ledger.platforms.note_members(known, "https://platform.example/members")
    found = ledger.platforms.context_of_class(platform.id, row.id)
    assert (found.context_id, found.members_url) == ("c8", "https://platform.example/members")
    with pytest.raises(NotFound):
        ledger.platforms.context_of_class(platform.id, "cls_unknown")


def test_a_login_is_ended_once_and_in_time(
    ledger: Ledger, platform: PlatformRow, clock: Clock
) -> None:
    begin(ledger, platform, "s1")
    found = ledger.launches.login("s1")
    assert found is not None
    # Nobody who reads the ledger can end somebody's login.
    assert {"s1", "ns1", "bs1"}.isdisjoint(vars(found).values())
    assert ledger.launches.use_up("s1")
    assert not ledger.launches.use_up("s1")
    assert ledger.launches.login("s1") is None
    begin(ledger, platform, "s2")
    clock.now += LOGIN_S
    assert ledger.launches.login("s2") is None
    begin(ledger, platform, "s3")
    assert not ledger.launches.use_up("s2")


def test_a_flood_of_logins_ends_the_oldest_of_its_own_platform_alone(
    ledger: Ledger,
    platform: PlatformRow,
    tutor: str,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(launches, "MOST_LOGINS", 4)
    other = ledger.platforms.add(new(tutor, "another"))
    begin(ledger, other, "theirs")
    for number in range(6):
        clock.now += 1
        begin(ledger, platform, f"s{number}")
    under_way = [name for name in map("s{}".format, range(6)) if ledger.launches.login(name)]
    assert under_way == ["s3", "s4", "s5"]
    assert ledger.launches.login("theirs") is not None


def test_a_launch_lasts_a_day_at_school(
    ledger: Ledger, platform: PlatformRow, tutor: str, clock: Clock
) -> None:
    context = ledger.platforms.open_context(platform, "1", "c7", "Drawing")
    secret = ledger.launches.open(platform.id, context.class_id, tutor)
    found = ledger.launches.opened(secret)
    assert found is not None
    assert (found.class_id, found.person_id) == (context.class_id, tutor)
    clock.now += LAUNCH_S
    assert ledger.launches.opened(secret) is None


def test_a_result_is_held_while_it_is_sent(
    ledger: Ledger, platform: PlatformRow, clock: Clock
) -> None:
    context = ledger.platforms.open_context(platform, "1", "c7", "Drawing")
    placed = ledger.external_ids.put_student(context.class_id, platform.site_id, "u1", "Ada")
    student = placed.person.id
    column = {"line_item": "https://platform.example/3", "home": "https://here.example/"}
    for _ in range(2):
        ledger.results.note(platform.id, student, subject="u1", **column)
    assert not ledger.results.waits()
    clock.now += 1
    Asker(ledger, student).ask()
    claim = ledger.claim("w/1")
    assert claim is not None
    assert not ledger.results.waits()
    ledger.finish(claim, PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=6))
    assert ledger.results.waits()
    (due,) = ledger.results.due()
    assert (due.pack_id, due.row.subject) == (claim.pack.id, "u1")
    assert not ledger.results.waits()
    assert ledger.results.due() == ()
    # Whoever held it died: it is due again.
    clock.now += 121
    (again,) = ledger.results.due()
    ledger.results.told(again)
    clock.now += 1000
    assert not ledger.results.waits()
