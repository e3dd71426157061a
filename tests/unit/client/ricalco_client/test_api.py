"""Calls, retries, errors and waiting, against a service without a socket."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import requests

from ricalco_client.api import Ricalco
from ricalco_client.errors import (
    AnswerUnreadable,
    MakingFailed,
    PhotoRefused,
    RequestRefused,
    ServiceUnreachable,
    SpecRefused,
    StateRefused,
    WaitedTooLong,
)

PHOTO = {"id": "ref_1", "width_px": 40, "height_px": 30, "format": "jpeg", "links": {}}
SPEC = {"support": {"width_mm": 600, "height_mm": 400}}


def _pack(state: str, done: int = 0, **more: Any) -> dict[str, Any]:
    progress = {"done": done, "total": 6, "step": "sheets"}
    return {"id": "pck_1", "state": state, "progress": progress, **more}


def test_a_photo_goes_out_as_a_file_with_a_key(ricalco: Ricalco, service: Any) -> None:
    service.answer(PHOTO, 201)
    reference = ricalco.references.upload(io.BytesIO(b"pixels"), name="vase.jpg")
    assert (reference.id, reference.width_px, reference.format) == ("ref_1", 40, "jpeg")
    sent = service.asked[0]
    assert (sent.method, sent.url) == ("POST", "http://ricalco.test/v1/references")
    assert len(sent.headers["Idempotency-Key"]) >= 24
    assert int(sent.headers["Content-Length"]) == len(service.bodies[0])
    assert b"pixels" in service.bodies[0]


def test_a_cut_off_upload_is_sent_again_with_the_same_key(
    ricalco: Ricalco, service: Any, tmp_path: Path
) -> None:
    photo = tmp_path / "vase.jpg"
    photo.write_bytes(b"pixels")
    service.answers.append(requests.ConnectionError("cut"))
    service.answer(PHOTO, 201)
    ricalco.references.upload(photo)
    first, second = service.asked
    assert first.headers["Idempotency-Key"] == second.headers["Idempotency-Key"]
    assert service.bodies[0] == service.bodies[1]


def test_a_photo_is_squared_up_with_a_key(ricalco: Ricalco, service: Any) -> None:
    service.answers.append(requests.ConnectionError("cut"))
    service.answer({**PHOTO, "id": "ref_2", "squared_from": "ref_1"}, 201)
    corners = ((0.1, 0.1), (0.9, 0.2), (0.8, 0.9), (0.2, 0.8))
    found = ricalco.references.square_up("ref_1", corners, proportion=1.5)
    assert (found.id, found.squared_from) == ("ref_2", "ref_1")
    first, sent = service.asked
    assert sent.url == "http://ricalco.test/v1/references/ref_1/squared"
    assert first.headers["Idempotency-Key"] == sent.headers["Idempotency-Key"]
    asked = json.loads(service.bodies[1])
    assert asked == {"corners": [list(corner) for corner in corners], "proportion": 1.5}


def test_a_photo_that_is_there_is_found_by_its_bytes(
    ricalco: Ricalco, service: Any, tmp_path: Path
) -> None:
    photo = tmp_path / "vase.jpg"
    photo.write_bytes(b"abc")
    service.answer({"items": [PHOTO, {**PHOTO, "id": "ref_2"}]})
    found = ricalco.references.find(photo)
    assert found is not None
    assert found.id == "ref_1"
    # The digest of "abc" is the first example of FIPS 180-4's test vectors (NIST).
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert service.asked[0].url == f"http://ricalco.test/v1/references?sha256={digest}"


def test_a_photo_that_is_not_there_is_not_found_and_its_file_stays_where_it_stood(
    ricalco: Ricalco, service: Any
) -> None:
    file = io.BytesIO(b"--abc")
    file.seek(2)
    service.answer({"items": []})
    assert ricalco.references.find(file) is None
    assert file.tell() == 2
    assert "ba7816bf" in service.asked[0].url


def test_a_stranger_who_finds_something_is_told_of(ricalco: Ricalco, service: Any) -> None:
    service.answer(["hello"])
    with pytest.raises(AnswerUnreadable):
        ricalco.references.find(io.BytesIO(b"abc"))


def test_a_stream_that_cannot_be_read_twice_is_kept(ricalco: Ricalco, service: Any) -> None:
    class Pipe(io.BytesIO):
        def seekable(self) -> bool:
            return False

    service.answer({"code": "busy"}, 503)
    service.answer(PHOTO, 201)
    ricalco.references.upload(Pipe(b"pixels"))
    assert service.bodies[0] == service.bodies[1]
    assert b"pixels" in service.bodies[0]


def test_retry_after_is_honoured(ricalco: Any, service: Any) -> None:
    service.answer({"code": "too-many-requests"}, 429, Retry_After="7")
    service.answer({"pieces": []})
    ricalco.plan("ref_1", SPEC)
    assert ricalco.naps == [7.0]


def test_who_is_told_to_come_back_much_later_is_told_so(ricalco: Any, service: Any) -> None:
    service.answer({"code": "too-many-requests", "detail": "Tomorrow."}, 429, Retry_After="86400")
    with pytest.raises(RequestRefused, match=r"Tomorrow\."):
        ricalco.plan("ref_1", SPEC)
    assert ricalco.naps == []


def test_a_key_in_progress_is_waited_for(
    ricalco: Any, service: Any, problem: Callable[..., dict[str, Any]]
) -> None:
    service.answer(problem("idempotency-key-in-progress"), 409)
    service.answer(_pack("queued"), 202)
    assert ricalco.packs.create("ref_1", SPEC).state == "queued"
    assert len(ricalco.naps) == 1


def test_a_no_is_not_asked_again(
    ricalco: Any, service: Any, problem: Callable[..., dict[str, Any]]
) -> None:
    service.answer(problem("reference-type"), 422)
    with pytest.raises(PhotoRefused) as caught:
        ricalco.references.upload(io.BytesIO(b"text"))
    assert caught.value.code == "reference-type"
    assert ricalco.naps == []


def test_cancelling_is_sent_once(ricalco: Any, service: Any) -> None:
    """A second DELETE would delete the pack that the first one has cancelled."""
    service.answers.append(requests.ReadTimeout("lost"))
    with pytest.raises(ServiceUnreachable):
        ricalco.packs.delete("pck_1")
    assert [sent.method for sent in service.asked] == ["DELETE"]
    assert ricalco.naps == []


def test_deleting_a_photo_ends_the_same_however_often(ricalco: Any, service: Any) -> None:
    service.answers.append(requests.ReadTimeout("lost"))
    service.answer(b"", 204)
    ricalco.references.delete("ref_1")
    assert [sent.method for sent in service.asked] == ["DELETE", "DELETE"]


def test_tries_come_to_an_end(ricalco: Any, service: Any) -> None:
    service.answers.extend([requests.ConnectionError("refused")] * 4)
    with pytest.raises(ServiceUnreachable, match="ricalco serve"):
        ricalco.sheet_formats()
    assert len(ricalco.naps) == 3


def test_silence_is_told_from_refusal(ricalco: Ricalco, service: Any) -> None:
    service.answers.extend([requests.ReadTimeout("slow")] * 4)
    with pytest.raises(ServiceUnreachable, match="in time"):
        ricalco.supports()


def test_a_spec_is_refused_with_its_field(
    ricalco: Ricalco, service: Any, problem: Callable[..., dict[str, Any]]
) -> None:
    service.answer(problem("spec-invalid", field="support.width_mm"), 422)
    with pytest.raises(SpecRefused) as caught:
        ricalco.packs.create("ref_1", SPEC)
    assert caught.value.field == "support.width_mm"


@pytest.mark.parametrize("body", [b"<html>", b"[1, 2", b""])
def test_a_stranger_at_the_address_is_recognised(
    ricalco: Ricalco, service: Any, body: bytes
) -> None:
    service.answer(body, 200)
    with pytest.raises(AnswerUnreadable, match="address"):
        ricalco.packs.get("pck_1")


@pytest.mark.parametrize("document", [{}, [], {"id": "x"}, None])
def test_json_of_something_else_is_recognised(
    ricalco: Ricalco, service: Any, document: Any
) -> None:
    service.answer(document)
    with pytest.raises(AnswerUnreadable):
        ricalco.packs.get("pck_1")


@pytest.mark.parametrize("document", [{}, [1], {"items": 5}, {"items": [7]}, None, 3])
def test_lists_of_something_else_are_recognised(
    ricalco: Ricalco, service: Any, document: Any
) -> None:
    service.answer(document)
    with pytest.raises(AnswerUnreadable):
        ricalco.sheet_formats()


def test_a_plan_of_something_else_is_recognised(ricalco: Ricalco, service: Any) -> None:
    service.answer([1, 2])
    with pytest.raises(AnswerUnreadable):
        ricalco.plan("ref_1", SPEC)


def test_a_redirect_is_not_followed_with_the_photo(ricalco: Ricalco, service: Any) -> None:
    service.answer(b"", 301, Location="https://elsewhere.test/")
    with pytest.raises(AnswerUnreadable, match=r"elsewhere\.test"):
        ricalco.packs.get("pck_1")


@pytest.mark.parametrize("address", ["", "localhost:8640", "ftp://x", "http://", "//x"])
def test_what_is_no_address_is_told_at_once(address: str) -> None:
    with pytest.raises(ServiceUnreachable, match="http://"):
        Ricalco(address)


def test_ids_cannot_leave_their_place_in_the_path(ricalco: Ricalco, service: Any) -> None:
    service.answer({"code": "not-found", "detail": "No."}, 404)
    with pytest.raises(StateRefused):
        ricalco.packs.get("../../metrics?x#y")
    assert service.asked[0].path_url == "/v1/packs/..%2F..%2Fmetrics%3Fx%23y"


def test_waiting_tells_each_step_once(ricalco: Any, service: Any) -> None:
    for pack in (_pack("queued"), _pack("making", 1), _pack("making", 1), _pack("making", 4)):
        service.answer(pack)
    service.answer(_pack("ready", 6))
    seen: list[tuple[str, int]] = []
    pack = ricalco.packs.wait(
        "pck_1", progress=lambda now: seen.append((now.state, now.progress.done))
    )
    assert seen == [("queued", 0), ("making", 1), ("making", 4), ("ready", 6)]
    assert pack.state == "ready"


def test_waiting_asks_less_often_while_nothing_moves(ricalco: Any, service: Any) -> None:
    for _ in range(20):
        service.answer(_pack("queued"))
    service.answer(_pack("ready", 6))
    ricalco.packs.wait("pck_1")
    assert ricalco.naps == sorted(ricalco.naps)
    assert max(ricalco.naps) <= 2.0


def test_a_pack_that_failed_says_why(ricalco: Ricalco, service: Any) -> None:
    service.answer(_pack("failed", error={"code": "gave-up", "detail": "Three attempts failed."}))
    with pytest.raises(MakingFailed, match="Three attempts") as caught:
        ricalco.packs.wait("pck_1")
    assert caught.value.code == "gave-up"


def test_a_cancelled_pack_is_told(ricalco: Ricalco, service: Any) -> None:
    service.answer(_pack("cancelled"))
    with pytest.raises(MakingFailed) as caught:
        ricalco.packs.wait("pck_1")
    assert caught.value.code == "cancelled"


def test_waiting_has_an_end(ricalco: Ricalco, service: Any) -> None:
    service.answer(_pack("queued"))
    with pytest.raises(WaitedTooLong, match="still being made"):
        ricalco.packs.wait("pck_1", timeout_s=0)


def test_a_pack_is_asked_for_with_title_and_spec(ricalco: Ricalco, service: Any) -> None:
    service.answer(_pack("queued"), 202)
    ricalco.packs.create("ref_1", SPEC, title="Vase", key="mine")
    assert json.loads(service.bodies[0]) == {"reference_id": "ref_1", "spec": SPEC, "title": "Vase"}
    assert service.asked[0].headers["Idempotency-Key"] == "mine"


def test_the_language_of_what_is_printed_is_asked_for(service: Any) -> None:
    for language, asked in (("it", "it"), (None, None)):
        service.answer({"items": []})
        with requests.Session() as session:
            session.mount("http://", service)
            Ricalco("http://127.0.0.1:1", session, language=language).supports()
        assert service.asked[-1].headers.get("Accept-Language") == asked


def test_a_pack_is_found_by_its_number_and_deleted_with_its_photo(
    ricalco: Ricalco, service: Any
) -> None:
    service.answer({"items": [_pack("ready")]})
    service.answer(b"", 204)
    assert [one.id for one in ricalco.packs.each(number="7K3F Q2ZD")] == ["pck_1"]
    ricalco.packs.delete("pck_1", with_photo=True)
    assert [one.path_url for one in service.asked] == [
        "/v1/me/packs?number=7K3F%20Q2ZD",
        "/v1/packs/pck_1?with_photo=true",
    ]
