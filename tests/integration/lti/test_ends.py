"""Nobody keeps by a launch what the platform, its site's tutor or the operator has ended."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.runtime.context import EXTENSION
from service.runtime.limits.session_rate import BURST, BURST_EACH, SessionRate
from service.runtime.limits.tallies import MemoryTallies
from tests.integration.lti.conftest import HOME, ROLES, World, data_of
from tests.servers.learning_platform import CLAIM, MEMBER

#: Names of claims (Deep Linking 2.0, 4.4; Names and Role Provisioning 2.0, 3.6.1.1).
DEEP_LINKING = "https://purl.imsglobal.org/spec/lti-dl/claim/deep_linking_settings"
MEMBERS = "https://purl.imsglobal.org/spec/lti-nrps/claim/namesroleservice"


def secret_of(shown: TestResponse) -> str:
    """What a tutor's page goes on with."""
    return shown.text.split('name="launch" value="')[1].split('"')[0]


def signed_in(world: World) -> FlaskClient:
    """A browser in which a tutor came from the course, in a window of its own."""
    browser = world.browser()
    secret = secret_of(world.launch_tutor())
    answer = browser.post("/lti/sign-in", data={"launch": secret}, base_url=HOME)
    assert answer.status_code == 303
    return browser


def class_id(world: World) -> str:
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    return row.id


def said(answer: TestResponse) -> tuple[int, str]:
    """Status and code of a refusal."""
    assert answer.json is not None, answer.text
    return answer.status_code, answer.json["code"]


def board(world: World, browser: FlaskClient) -> TestResponse:
    return browser.get(f"/v1/classes/{class_id(world)}/board", base_url=HOME)


def expire(world: World) -> None:
    changes = {"expires_at": time.time() - 1}
    world.ledger.sites.change(world.row.site_id, world.tutor_id, changes)


def test_tutors_go_with_the_platform(world: World) -> None:
    browser = signed_in(world)
    data_of(world.launch())
    assert board(world, browser).status_code == 200
    world.ledger.sites.delete(world.row.site_id, world.tutor_id)
    assert browser.get("/v1/me", base_url=HOME).status_code == 401
    assert "Ruth Blume" not in [one.name for one in world.ledger.people.tutors()]
    # Students, and what is theirs, stay in the class of its own tutor.
    (student,) = world.ledger.students.of_class(class_id(world))
    assert student.name == "Ada Okafor"


def test_who_has_a_key_of_their_own_keeps_that_and_not_the_class(world: World) -> None:
    signed_in(world)
    row, ruth = world.ledger.second_tutors.of_class(class_id(world), world.tutor_id)
    assert row.owns
    own = world.ledger.people.issue_key(ruth.id, "by the operator").key
    world.ledger.sites.delete(world.row.site_id, world.tutor_id)
    headers = {"Authorization": f"Bearer {own}"}
    browser = world.browser()
    assert browser.get("/v1/me", base_url=HOME, headers=headers).status_code == 200
    left = browser.get(f"/v1/classes/{class_id(world)}/board", base_url=HOME, headers=headers)
    assert said(left) == (404, "not-found")
    assert [one.label for one in world.ledger.people.keys(ruth.id)] == ["by the operator"]


def test_after_its_time_a_platforms_tutors_get_in_no_more(world: World) -> None:
    browser = signed_in(world)
    expire(world)
    assert said(board(world, browser)) == (401, "site-expired")
    world.ledger.sites.change(world.row.site_id, world.tutor_id, {"expires_at": time.time() + 1000})
    assert board(world, browser).status_code == 200


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("POST", "/v1/me/keys", {"label": "for ever"}),
        ("POST", "/v1/sites", {"name": "Mine"}),
        ("POST", "/v1/webhooks", {"url": "https://receiver.example/", "events": ["pack.ready"]}),
        ("POST", "/v1/classes", {"name": "Mine"}),
        ("GET", "/metrics", None),
    ],
)
def test_by_a_launch_nothing_is_made_that_outlasts_the_platform(
    world: World, method: str, path: str, body: dict[str, Any] | None
) -> None:
    refused = signed_in(world).open(path, method=method, json=body, base_url=HOME)
    assert said(refused) == (403, "not-allowed")
    assert "key of your own" in refused.text


@pytest.mark.parametrize("roles", [[f"{MEMBER}Learner"], [f"{MEMBER}Mentor"]], ids=str)
def test_who_comes_without_the_role_teaches_no_more(world: World, roles: list[str]) -> None:
    browser = signed_in(world)
    world.launch_tutor(**{ROLES: roles})
    assert said(board(world, browser)) == (404, "not-found")
    # With the role they are who they were.
    world.launch_tutor()
    assert board(world, browser).status_code == 200


def take_away(world: World, scope: str) -> None:
    scopes = [one for one in world.ledger.sites.find(world.row.site_id).scopes if one != scope]
    world.ledger.sites.change(world.row.site_id, world.tutor_id, {"scopes": scopes})


def people_in(world: World) -> tuple[list[str], list[str]]:
    """Names of the class's tutors and students."""
    teach = world.ledger.second_tutors.of_class(class_id(world), world.tutor_id)
    learn = world.ledger.students.of_class(class_id(world))
    return [one.name for one in teach], [one.name for one in learn]


def deep_linking(world: World) -> TestResponse:
    """A tutor wants to place the activity (Deep Linking 2.0, 4.4)."""
    settings = {
        "deep_link_return_url": f"{world.platform.base}/content",
        "accept_types": ["ltiResourceLink"],
    }
    return world.launch_tutor(
        **{f"{CLAIM}message_type": "LtiDeepLinkingRequest", DEEP_LINKING: settings}
    )


@pytest.mark.parametrize("scope", ["add-tutors", "add-students", "start-sessions"])
def test_a_launch_does_what_the_site_may(world: World, scope: str) -> None:
    secret = secret_of(world.launch_tutor())
    renewal = data_of(world.launch())["renewal"]
    before = people_in(world)
    take_away(world, scope)
    refused = {
        "add-tutors": scope == "add-tutors",
        "add-students": scope == "add-students",
        "start-sessions": scope == "start-sessions",
    }
    browser = world.browser()
    answers = [
        (world.launch_tutor(sub="teacher-2", name="Ines"), refused["add-tutors"]),
        (deep_linking(world), refused["add-tutors"]),
        (world.launch(sub="user-2"), refused["add-students"] or refused["start-sessions"]),
        (
            browser.post("/lti/renewals", json={"renewal": renewal}, base_url=HOME),
            refused["start-sessions"],
        ),
        (
            browser.post("/lti/sign-in", data={"launch": secret}, base_url=HOME),
            refused["add-tutors"],
        ),
    ]
    for answer, is_refused in answers:
        if is_refused:
            assert said(answer) == (403, "scope-missing")
            assert scope in answer.text
        else:
            assert answer.status_code in {200, 303}
    # Who was refused was put nowhere.
    after = people_in(world)
    assert len(after[0]) - len(before[0]) == (not refused["add-tutors"])
    assert len(after[1]) - len(before[1]) == (scope == "add-tutors")
    # What is given back works again: a refused sign-in has not used the launch up.
    scopes = [*world.ledger.sites.find(world.row.site_id).scopes, scope]
    world.ledger.sites.change(world.row.site_id, world.tutor_id, {"scopes": scopes})
    if refused["add-tutors"]:
        again = browser.post("/lti/sign-in", data={"launch": secret}, base_url=HOME)
        assert again.status_code == 303


def test_who_may_bring_no_tutors_any_more_signs_those_out_that_it_brought(world: World) -> None:
    browser = signed_in(world)
    other = world.ledger.people.add_tutor("Ines")[0]
    own = world.ledger.people.issue_key(other.id, "Own")
    ours = world.ledger.people.sign_in(own.access.id)
    take_away(world, "make-packs")
    assert board(world, browser).status_code == 200
    take_away(world, "add-tutors")
    assert said(board(world, browser)) == (401, "key-unknown")
    assert world.ledger.people.opened_by(ours.key) is not None
    # Given back, it opens nothing that was ended: another launch does.
    scopes = [*world.ledger.sites.find(world.row.site_id).scopes, "add-tutors"]
    world.ledger.sites.change(world.row.site_id, world.tutor_id, {"scopes": scopes})
    assert board(world, browser).status_code == 401
    assert board(world, signed_in(world)).status_code == 200


@pytest.mark.parametrize("how", ["expired", "all keys withdrawn"])
def test_after_its_time_a_platform_launches_nobody(world: World, how: str) -> None:
    world.launch_tutor()
    before = people_in(world)
    if how == "expired":
        expire(world)
    else:
        world.ledger.people.withdraw_key(world.row.site_id)
    refused = (
        world.launch_tutor(sub="teacher-2"), world.launch(sub="user-2"), deep_linking(world)
    )  # fmt: skip
    assert {said(one) for one in refused} == {(401, "site-expired")}
    assert people_in(world) == before


def test_who_was_taken_out_of_the_class_brings_nobody_into_it(world: World) -> None:
    members = {"context_memberships_url": f"{world.platform.base}/members"}
    secret = secret_of(world.launch_tutor(**{MEMBERS: members}))
    world.launch_tutor(**{f"{CLAIM}context": {"id": "course-8", "title": "Pastel"}})
    first = class_id_of(world, "Drawing, group 7")
    _, ruth = world.ledger.second_tutors.of_class(first, world.tutor_id)
    world.ledger.second_tutors.remove(first, ruth.id)
    browser = world.browser()
    refused = browser.post("/lti/roster", data={"launch": secret}, base_url=HOME)
    assert said(refused) == (404, "not-found")
    assert world.platform.count("/token") == world.platform.count("/members") == 0


def test_the_roster_needs_its_scope(world: World) -> None:
    members = {"context_memberships_url": f"{world.platform.base}/members"}
    secret = secret_of(world.launch_tutor(**{MEMBERS: members}))
    take_away(world, "add-students")
    browser = world.browser()
    refused = browser.post("/lti/roster", data={"launch": secret}, base_url=HOME)
    assert said(refused) == (403, "scope-missing")
    assert world.platform.count("/token") == 0


def class_id_of(world: World, name: str) -> str:
    found = world.ledger.classes.of_tutor(world.tutor_id)
    return next(one.id for one in found if one.name == name)


def test_one_student_does_not_end_the_sessions_of_others(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    limited = replace(
        world.app.extensions[EXTENSION], session_rate=SessionRate(MemoryTallies(lambda: 0.0))
    )
    monkeypatch.setitem(world.app.extensions, EXTENSION, limited)
    world.launch_tutor()
    renewal = data_of(world.launch())["renewal"]
    browser = world.browser()

    def renew() -> TestResponse:
        return browser.post("/lti/renewals", json={"renewal": renewal}, base_url=HOME)

    assert {renew().status_code for _ in range(BURST_EACH - 1)} == {200}
    refused = renew()
    assert said(refused) == (429, "too-many-sessions")
    assert int(refused.headers["Retry-After"]) == 60
    for _ in range(BURST):
        renew()
    # Neither renewing nor launching again helps the one; another comes as before.
    assert said(world.launch()) == (429, "too-many-sessions")
    data_of(world.launch(sub="user-2"))
