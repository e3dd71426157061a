"""Sessions of a course site's students: requests and answers."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import ServiceUnreachable, StateRefused

STARTED = {"id": "ses_1", "student_id": "stu_1", "token": "rct_abc"}


def test_a_session_is_started_for_a_student_in_a_page(ricalco: Ricalco, service: Any) -> None:
    service.answer(STARTED, 201)
    assert ricalco.sessions.start("stu_1", "https://course.example") == STARTED
    (sent,) = service.asked
    assert (sent.method, sent.path_url) == ("POST", "/v1/sessions")
    wish = {"student_id": "stu_1", "origin": "https://course.example"}
    assert json.loads(service.bodies[0]) == wish


def test_it_may_be_limited(ricalco: Ricalco, service: Any) -> None:
    service.answer(STARTED, 201)
    ricalco.sessions.start("stu_1", "https://course.example", scopes=("fetch-packs",))
    assert json.loads(service.bodies[0])["scopes"] == ["fetch-packs"]


def test_a_start_is_not_repeated(ricalco: Ricalco, service: Any) -> None:
    """Its answer has a token, which is kept nowhere, so a second one would be another session."""
    service.answers.append(ConnectionError())
    with pytest.raises((ServiceUnreachable, ConnectionError)):
        ricalco.sessions.start("stu_1", "https://course.example")
    assert len(service.asked) == 1


def test_it_is_ended_before_its_time(ricalco: Ricalco, service: Any) -> None:
    service.answer(b"", 204)
    service.answer({"code": "not-found", "detail": "There is no such session."}, 404)
    ricalco.sessions.end("ses/1")
    assert (service.asked[0].method, service.asked[0].path_url) == (
        "DELETE",
        "/v1/sessions/ses%2F1",
    )
    with pytest.raises(StateRefused):
        ricalco.sessions.end("ses_1")
