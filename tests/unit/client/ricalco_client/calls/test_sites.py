"""The client's course sites and sessions: requests and answers."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import RequestRefused, StateRefused

SITE = {"id": "sit_1", "name": "Pages", "class_ids": ["cls_1"]}
ORIGIN = "https://course.example"


def calls(service: Any) -> list[tuple[str, str]]:
    return [(one.method, one.url.removeprefix("http://ricalco.test")) for one in service.asked]


def test_a_site_is_made_changed_and_deleted(ricalco: Ricalco, service: Any) -> None:
    for answer in ({"site": SITE, "key": "rck_1", "key_id": "key_1"}, {"items": [SITE]}, SITE):
        service.answer(answer, 201)
    service.answer(SITE)
    service.answer(None, 204)
    assert ricalco.sites.create({"name": "Pages"})["key"] == "rck_1"
    assert ricalco.sites.every() == [SITE]
    assert ricalco.sites.get("sit_1") == SITE
    ricalco.sites.change("sit_1", {"scopes": ["read-class"]})
    ricalco.sites.delete("sit_1")
    assert calls(service) == [
        ("POST", "/v1/sites"),
        ("GET", "/v1/sites"),
        ("GET", "/v1/sites/sit_1"),
        ("PATCH", "/v1/sites/sit_1"),
        ("DELETE", "/v1/sites/sit_1"),
    ]
    assert json.loads(service.bodies[3]) == {"scopes": ["read-class"]}


def test_its_keys_are_made_listed_and_withdrawn(ricalco: Ricalco, service: Any) -> None:
    service.answer({"site": SITE, "key": "rck_2", "key_id": "key_2"}, 201)
    service.answer({"items": [{"id": "key_2"}]})
    service.answer(None, 204)
    assert ricalco.sites.issue_key("sit_1", "autumn")["key_id"] == "key_2"
    assert ricalco.sites.keys("sit_1") == [{"id": "key_2"}]
    ricalco.sites.withdraw_key("sit_1", "key_2")
    assert calls(service)[2] == ("DELETE", "/v1/sites/sit_1/keys/key_2")
    assert json.loads(service.bodies[0]) == {"label": "autumn"}


def test_a_log_is_read_to_its_end(ricalco: Ricalco, service: Any) -> None:
    link = '</v1/sites/sit_1/log?limit=1&cursor=log_1>; rel="next"'
    service.answer({"items": [{"action": "put"}]}, Link=link)
    service.answer({"items": [{"action": "start"}]})
    assert [one["action"] for one in ricalco.sites.log("sit_1")] == ["put", "start"]
    assert calls(service)[1] == ("GET", "/v1/sites/sit_1/log?limit=1&cursor=log_1")


def test_a_session_is_started_renewed_and_ended(ricalco: Ricalco, service: Any) -> None:
    for number in (1, 2):
        service.answer({"id": f"ses_{number}", "token": f"rct_{number}"}, 201)
    service.answer(None, 204)
    started = ricalco.sessions.start("stu_1", ORIGIN, scopes=("fetch-packs",))
    assert ricalco.sessions.renew(started["id"])["id"] == "ses_2"
    ricalco.sessions.end("ses_2")
    wish = {"student_id": "stu_1", "origin": ORIGIN, "scopes": ["fetch-packs"]}
    assert json.loads(service.bodies[0]) == wish
    assert calls(service)[1:] == [
        ("POST", "/v1/sessions/ses_1/renewals"),
        ("DELETE", "/v1/sessions/ses_2"),
    ]


def test_what_a_session_may_is_left_to_the_service(ricalco: Ricalco, service: Any) -> None:
    service.answer({"id": "ses_1"}, 201)
    ricalco.sessions.start("stu_1", ORIGIN)
    assert json.loads(service.bodies[0]) == {"student_id": "stu_1", "origin": ORIGIN}


def test_people_are_put_by_ids_of_ones_own(ricalco: Ricalco, service: Any) -> None:
    for answer in ({"id": "stu_1"}, {"id": "stu_1"}, {"id": "tut_1"}, {"id": "tut_2"}):
        service.answer(answer)
    service.answer({"items": [{"id": "tut_1"}]})
    service.answer(None, 204)
    classes = ricalco.classes
    assert classes.put_student("cls_1", "a/b c", "Ann Lee") == {"id": "stu_1"}
    assert classes.student("cls_1", "a/b c") == {"id": "stu_1"}
    classes.put_tutor("cls_1", "t-1", name="Cem")
    classes.put_tutor("cls_1", "t-2", tutor_id="tut_2")
    assert classes.tutors("cls_1") == [{"id": "tut_1"}]
    classes.remove_tutor("cls_1", "tut_1")
    assert calls(service) == [
        ("PUT", "/v1/classes/cls_1/students/by-external-id/a%2Fb%20c"),
        ("GET", "/v1/classes/cls_1/students/by-external-id/a%2Fb%20c"),
        ("PUT", "/v1/classes/cls_1/tutors/by-external-id/t-1"),
        ("PUT", "/v1/classes/cls_1/tutors/by-external-id/t-2"),
        ("GET", "/v1/classes/cls_1/tutors"),
        ("DELETE", "/v1/classes/cls_1/tutors/tut_1"),
    ]
    assert [json.loads(one) for one in (service.bodies[2], service.bodies[3])] == [
        {"name": "Cem"},
        {"tutor_id": "tut_2"},
    ]


def test_refusals_are_told_by_class(ricalco: Ricalco, service: Any) -> None:
    for code, status in (("scope-missing", 403), ("not-found", 404)):
        problem = {"code": code, "detail": "This needs the scope start-sessions."}
        service.answer(problem, status, Content_Type="application/problem+json")
    with pytest.raises(RequestRefused, match="start-sessions"):
        ricalco.sessions.start("stu_1", ORIGIN)
    with pytest.raises(StateRefused):
        ricalco.sessions.start("stu_1", ORIGIN)
