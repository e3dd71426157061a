"""Names and Role Provisioning Services 2.0: a tutor brings the course's students to the roster.

Section 2.2 says what a member has.
"""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlsplit

import pytest
from werkzeug.test import TestResponse

from tests.integration.lti.conftest import HOME, World, data_of
from tests.servers.learning_platform import MEMBER, serving

SERVICE = "https://purl.imsglobal.org/spec/lti-nrps/claim/namesroleservice"
SCOPE = "https://purl.imsglobal.org/spec/lti-nrps/scope/contextmembership.readonly"
CONTAINER = "application/vnd.ims.lti-nrps.v2.membershipcontainer+json"


def member(user_id: object, name: str | None, *roles: str, **more: Any) -> dict[str, Any]:
    return {"user_id": user_id, "name": name, "roles": list(roles), **more}


def lists(world: World, path: str, *found: object, follows: str | None = None) -> None:
    """Have the platform list these members."""
    body = json.dumps({"id": path, "context": {"id": "course-7"}, "members": found}).encode()
    headers = {"Content-Type": CONTAINER}
    if follows is not None:
        headers["Link"] = f'<{follows}>; rel="next"'
    world.platform.answers[path] = (200, headers, body)


@pytest.fixture
def listed(world: World) -> World:
    """A platform that lists members, and gives tokens for it."""
    grant = json.dumps({"access_token": "at-1", "token_type": "Bearer"}).encode()
    world.platform.answers["/token"] = (200, {"Content-Type": "application/json"}, grant)
    return world


def launch(world: World, **changes: Any) -> str:
    """A tutor opens the course; returns what the page shows."""
    service = {
        "context_memberships_url": f"{world.platform.base}/members?limit=2",
        "service_versions": ["2.0"],
        **changes,
    }
    shown = world.launch_tutor(**{SERVICE: service})
    assert shown.status_code == 200
    return shown.text


def press(world: World, shown: str) -> TestResponse:
    """The tutor presses the button."""
    secret = shown.split('name="launch" value="')[1].split('"', maxsplit=1)[0]
    return world.browser().post("/lti/roster", data={"launch": secret}, base_url=HOME)


def roster(world: World) -> list[str]:
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    return [one.name for one in world.ledger.students.of_class(row.id)]


def test_students_of_all_pages_are_put_on_the_roster(listed: World) -> None:
    learner = f"{MEMBER}Learner"
    first = (member("user-1", "Ada Okafor", learner), member("user-2", None, "Learner"))
    lists(listed, "/members", *first, follows="/members/2")
    lists(
        listed,
        "/members/2",
        member("user-3", "Ada Okafor", learner, status="Active"),
        member("user-4", "Gone", learner, status="Inactive"),
        member("teacher-1", "Ruth Blume", f"{MEMBER}Instructor"),
        member(None, "Nobody", learner),
        member("user-5", "No roles"),
        "no member",
    )
    shown = launch(listed)
    answer = press(listed, shown)
    assert answer.status_code == 200
    assert "lists 3 who learn in it; 3 of them are new" in answer.text
    assert roster(listed) == ["Ada Okafor", "Student", "Ada Okafor"]
    asked = [one for one in listed.platform.asked if urlsplit(one.path).path.startswith("/members")]
    assert [one.path for one in asked] == ["/members?limit=2", "/members/2"]
    assert {one.headers["Authorization"] for one in asked} == {"Bearer at-1"}
    assert {one.headers["Accept"] for one in asked} == {CONTAINER}
    (token,) = [one for one in listed.platform.asked if one.path == "/token"]
    assert token.form["scope"] == SCOPE
    # Again: the same people. Who launches is the one who was put.
    assert "0 of them are new" in press(listed, shown).text
    data_of(listed.launch())
    assert len(roster(listed)) == 3


def test_who_is_not_listed_stays(listed: World) -> None:
    lists(listed, "/members")
    shown = launch(listed)
    data_of(listed.launch())
    assert press(listed, shown).status_code == 200
    assert roster(listed) == ["Ada Okafor"]


@pytest.mark.parametrize(
    "changes",
    [
        {"context_memberships_url": None},
        {"context_memberships_url": "http://platform.example/members"},
        {"context_memberships_url": "https://other.example/members"},
        {"service_versions": ["1.0"]},
    ],
    ids=str,
)
def test_without_the_service_no_button_is_shown(listed: World, changes: dict[str, Any]) -> None:
    assert "/lti/roster" not in launch(listed, **changes)


@pytest.mark.parametrize("fault", ["status", "no JSON", "another form", "elsewhere", "endless"])
def test_a_list_that_cannot_be_read_is_told(listed: World, fault: str) -> None:
    answers = listed.platform.answers
    shown = launch(listed)
    if fault == "status":
        answers["/members"] = (403, {}, b"")
    elif fault == "no JSON":
        answers["/members"] = (200, {}, b"<html>")
    elif fault == "another form":
        answers["/members"] = (200, {}, b"[]")
    else:
        leads_to = "https://other.example/members" if fault == "elsewhere" else "/members"
        lists(listed, "/members", follows=leads_to)
    answer = press(listed, shown)
    assert (answer.status_code, answer.json["code"]) == (502, "platform-unreachable")  # type: ignore[index]
    assert listed.platform.count("/members") <= 50
    assert roster(listed) == []


def test_a_list_at_another_host_is_not_asked_for(listed: World) -> None:
    shown = launch(listed)
    (row,) = listed.ledger.classes.of_tutor(listed.tutor_id)
    course = listed.ledger.platforms.context_of_class(listed.row.id, row.id)
    with serving() as other:
        # As it may have been noted before hosts were checked; its port makes it another.
        listed.ledger.platforms.note_members(course, f"{other.base}/members")
        assert press(listed, shown).status_code == 502
        assert other.asked == []
    assert listed.platform.count("/token") == 0


def test_only_the_tutors_launch_asks(listed: World) -> None:
    lists(listed, "/members", member("user-9", "Bo Lind", "Learner"))
    launch(listed)
    data = data_of(listed.launch())
    browser = listed.browser()
    for secret in (data["renewal"], data["token"], "rcp_guessed", ""):
        answer = browser.post("/lti/roster", data={"launch": secret}, base_url=HOME)
        assert answer.status_code == 401
    assert listed.platform.count("/members") == 0
