"""Lists page by page, and documents that are asked for again."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import islice
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable

PACK = {"id": "pck_1", "state": "making", "progress": {"done": 1, "total": 6, "step": "sheets"}}


def pages(service: Any) -> None:
    """Two pages of packs."""
    following = '</v1/me/packs?limit=2&cursor=abc%3D>; rel="next"'
    service.answer({"items": [{**PACK, "id": "a"}, {**PACK, "id": "b"}]}, Link=following)
    service.answer({"items": [{**PACK, "id": "c"}]})


def test_pages_are_fetched_when_their_turn_comes(ricalco: Ricalco, service: Any) -> None:
    pages(service)
    packs = ricalco.packs.each(page_size=2)
    assert service.asked == []
    assert [one.id for one in islice(packs, 2)] == ["a", "b"]
    assert [one.url for one in service.asked] == ["http://ricalco.test/v1/me/packs?limit=2"]
    assert [one.id for one in packs] == ["c"]
    assert service.asked[1].url == "http://ricalco.test/v1/me/packs?limit=2&cursor=abc%3D"


def test_a_list_is_whole(ricalco: Ricalco, service: Any) -> None:
    following = '</v1/classes?limit=100&cursor=x>; rel="next"'
    service.answer({"items": [{"id": "cls_1"}]}, Link=following)
    service.answer({"items": [{"id": "cls_2"}]})
    assert [one["id"] for one in ricalco.classes.every()] == ["cls_1", "cls_2"]


def test_no_key_is_sent_to_another_address(ricalco: Ricalco, service: Any) -> None:
    for target in ("http://elsewhere.test/v1/me/packs", "//elsewhere.test/v1/me/packs"):
        service.answer({"items": []}, Link=f'<{target}>; rel="next"')
        with pytest.raises(AnswerUnreadable, match=r"elsewhere\.test"):
            list(ricalco.packs.each())


def test_waiting_sends_the_tag_of_what_is_known(ricalco: Ricalco, service: Any) -> None:
    service.answer(PACK, ETag='"one"')
    service.answer(b"", 304, ETag='"one"')
    service.answer({**PACK, "state": "ready"}, ETag='"two"')
    seen: list[str] = []
    pack = ricalco.packs.wait("pck_1", progress=lambda one: seen.append(one.state))
    assert pack.state == "ready"
    # The unchanged one in between is no news.
    assert seen == ["making", "ready"]
    tags = [one.headers.get("If-None-Match") for one in service.asked]
    assert tags == [None, '"one"', '"one"']


def test_a_service_without_tags_is_waited_for_all_the_same(ricalco: Ricalco, service: Any) -> None:
    batch = {"id": "bat_1", "state": "making", "counts": {}, "print_runs": []}
    for state in ("making", "making", "ready"):
        service.answer({**batch, "state": state})
    assert ricalco.batches.wait("bat_1").state == "ready"
    assert all("If-None-Match" not in one.headers for one in service.asked)


def test_a_link_says_until_when_and_not_its_secret(ricalco: Ricalco, service: Any) -> None:
    url = "http://ricalco.test/v1/links/1-1.pdf?secret=rcl_x"
    answer = {"url": url, "file": "sheets/1-1.pdf", "ends_at": "2026-03-01T10:15:00+00:00"}
    for _ in range(2):
        service.answer(answer, 201)
    link = ricalco.packs.link("pck_1", "sheets/1-1.pdf", valid_s=60)
    assert link.ends_at == datetime(2026, 3, 1, 10, 15, tzinfo=UTC)
    assert link.url == url
    assert "rcl_" not in repr(link)
    assert service.bodies[0] == b'{"file": "sheets/1-1.pdf", "valid_s": 60}'
    ricalco.batches.link("bat_1", "iso_a4_210x297mm", covers=True)
    wish = b'{"file": "print-run/iso_a4_210x297mm.pdf", "covers": true, "valid_s": 900}'
    assert service.bodies[1] == wish
