"""The client's classes: requests and answers."""

from __future__ import annotations

from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable, PapersRefused
from tests.unit.client.ricalco_client.calls.test_batches import BATCH

CLASS = {"id": "cls_1", "name": "Thursday 7b", "join_code": "AB12-CD34"}
TABLE = "Name;Group\r\nŞule Öz;A\r\n".encode("utf-16")


def test_classes_are_listed_and_made_once(ricalco: Ricalco, service: Any) -> None:
    service.answer({"items": [CLASS]})
    service.answer(CLASS, 201)
    assert ricalco.classes.every() == [CLASS]
    assert ricalco.classes.create({"name": "Thursday 7b"}) == CLASS
    assert service.asked[1].url == "http://ricalco.test/v1/classes"
    assert len(service.asked[1].headers["Idempotency-Key"]) >= 24


def test_what_a_lesson_needs_is_asked_for(ricalco: Ricalco, service: Any) -> None:
    link = {"url": "http://ricalco.test/#new-key=rcn_1", "qr_svg": "<svg/>", "ends_at": "…"}
    found = {"student": {"id": "stu_1", "name": "Ann Lee"}, "pack": {"id": "pck_1"}}
    for _ in range(3):
        service.answer(CLASS)
    service.answer(None, 204)
    service.answer({"items": [found]})
    service.answer(link, 201)
    service.answer(CLASS, 201)
    classes, framing = ricalco.classes, {"crop": {"focus": [0.5, 0.4]}}
    classes.open_joining("cls_1")
    classes.open_joining("cls_1", until="2026-12-01T10:45:00Z")
    classes.set_picture("cls_1", "ref_1", framing)
    classes.remove_picture("cls_1")
    assert classes.find_packs("cls_1", "7K3F Q2ZD") == [found]
    assert classes.link_to_key("cls_1", "stu_1") == link
    assert classes.copy("cls_1", "Spring") == CLASS
    asked = [(one.method, one.url.removeprefix("http://ricalco.test/v1")) for one in service.asked]
    assert asked == [
        ("PATCH", "/classes/cls_1"),
        ("PATCH", "/classes/cls_1"),
        ("PUT", "/classes/cls_1/picture"),
        ("DELETE", "/classes/cls_1/picture"),
        ("GET", "/classes/cls_1/packs?number=7K3F%20Q2ZD"),
        ("POST", "/classes/cls_1/student-keys/stu_1/links"),
        ("POST", "/classes/cls_1/copies"),
    ]


def test_a_list_of_names_goes_as_the_bytes_that_it_has(ricalco: Ricalco, service: Any) -> None:
    """The service detects the encoding; after a lost connection the same key is sent again."""
    service.answer(None, 503)
    service.answer({"items": [{"name": "Şule Öz"}], "known": ["Ann Lee"]}, 201)
    added, known = ricalco.classes.add_students("cls_1", TABLE)
    assert ([one["name"] for one in added], list(known)) == (["Şule Öz"], ["Ann Lee"])
    assert service.bodies == [TABLE, TABLE]
    assert {one.headers["Content-Type"] for one in service.asked} == {"text/csv"}
    assert len({one.headers["Idempotency-Key"] for one in service.asked}) == 1


def test_a_batch_from_a_file_sends_it_bare(ricalco: Ricalco, service: Any) -> None:
    service.answer(BATCH, 202)
    ricalco.batches.create("cls_1", {"table": TABLE, "title": "Vase & jug", "note": ""})
    (sent,) = service.asked
    assert sent.url.endswith("/v1/classes/cls_1/batches?title=Vase+%26+jug")
    assert service.bodies == [TABLE]


def test_batches_of_a_class_are_listed(ricalco: Ricalco, service: Any) -> None:
    service.answer({"items": [BATCH]})
    assert [one.id for one in ricalco.batches.of_class("cls_1")] == ["bat_1"]


def test_what_is_wrong_with_a_list_is_told(ricalco: Ricalco, service: Any) -> None:
    problem = {"code": "table-unreadable", "detail": "Line 2 has no name."}
    service.answer(problem, 422, Content_Type="application/problem+json")
    with pytest.raises(PapersRefused, match="Line 2"):
        ricalco.classes.add_students("cls_1", b"x")


@pytest.mark.parametrize("answer", [[], {"things": []}, {"items": [1]}])
def test_an_answer_that_is_no_list_is_said_so(ricalco: Ricalco, service: Any, answer: Any) -> None:
    service.answer(answer)
    with pytest.raises(AnswerUnreadable):
        ricalco.classes.every()
