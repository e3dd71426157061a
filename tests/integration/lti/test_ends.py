"""Nobody keeps by a launch what the platform, its site's tutor or the operator has ended."""

from __future__ import annotations

import time
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tests.integration.lti.conftest import HOME, ROLES, World, data_of
from tests.learning_platform import MEMBER


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
