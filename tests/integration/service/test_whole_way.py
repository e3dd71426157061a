"""From a photo to a pack over HTTP, with the real server, worker, ledger and files."""

from __future__ import annotations

import hashlib
import io
import json
import re
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pikepdf
import pytest
import requests
from PIL import Image

Json = dict[str, Any]


def test_a_photo_is_taken_in(api: Any, reference: Json) -> None:
    assert (reference["width_px"], reference["height_px"]) == (512, 512)
    assert reference["format"] == "jpeg"
    assert api.get(reference["links"]["self"]).json() == reference
    preview = api.get(reference["links"]["preview"])
    assert preview.headers["Content-Type"] == "image/jpeg"
    with Image.open(io.BytesIO(preview.content)) as picture:
        assert picture.size == (512, 512)
        assert not picture.getexif()


def test_a_plan_is_told_at_once(api: Any, reference: Json) -> None:
    body = {
        "reference_id": reference["id"],
        "spec": {"support": {"width_mm": 600, "height_mm": 400}},
    }
    answer = requests.post(f"{api.url}/v1/plans", json=body, timeout=30)
    assert answer.status_code == 200
    plan = answer.json()
    assert plan["picture"] == {"width_mm": 600, "height_mm": 400}
    # A 600 x 400 mm picture has more area than five A4 sheets (ISO 216) together.
    assert plan["sheet_count"] >= 4
    assert len(plan["pieces"]) == plan["sheet_count"]


def test_a_pack_is_made(api: Any, pack: Json) -> None:
    assert pack["progress"]["done"] == pack["progress"]["total"] == pack["plan"]["sheet_count"]
    assert pack["title"] == "Portrait, évora 静"
    answer = api.get(pack["files"]["pack"])
    assert answer.headers["Content-Type"] == "application/pdf"
    assert (
        "UTF-8''Portrait%2C%20%C3%A9vora%20%E9%9D%99.pdf" in answer.headers["Content-Disposition"]
    )
    with pikepdf.open(io.BytesIO(answer.content)) as pdf:
        assert len(pdf.pages) == 3 + pack["plan"]["sheet_count"]
    with Image.open(io.BytesIO(api.get(pack["files"]["map"]).content)) as picture:
        assert picture.format == "PNG"


def test_ranges_join_to_the_whole(api: Any, pack: Json) -> None:
    path = pack["files"]["pack"]
    whole = api.get(path)
    tag, size = whole.headers["ETag"], len(whole.content)
    head = requests.head(api.url + path, timeout=30)
    assert int(head.headers["Content-Length"]) == size
    parts = [
        api.get(path, **{"Range": f"bytes={first}-{first + 99_999}", "If-Range": tag})
        for first in range(0, size, 100_000)
    ]
    assert {part.status_code for part in parts} == {206}
    joined = b"".join(part.content for part in parts)
    assert hashlib.sha256(joined).digest() == hashlib.sha256(whole.content).digest()
    assert api.get(path, **{"If-None-Match": tag}).status_code == 304
    assert api.get(path, Range=f"bytes={size}-").status_code == 416


def test_one_sheet_alone_is_the_same_each_time(api: Any, pack: Json) -> None:
    sheet = pack["files"]["sheets"][0]
    first, again = api.get(sheet["pdf"]), api.get(sheet["pdf"])
    assert first.status_code == 200, first.text
    assert first.content == again.content
    assert first.headers["ETag"] == again.headers["ETag"]
    with pikepdf.open(io.BytesIO(first.content)) as pdf:
        assert len(pdf.pages) == 1
    picture = api.get(sheet["png"])
    assert picture.headers["Content-Type"] == "image/png"
    assert api.get(sheet["png"], **{"If-None-Match": picture.headers["ETag"]}).status_code == 304
    assert api.get(sheet["pdf"], Range="bytes=0-3").content == b"%PDF"


def test_the_whole_picture_is_fetched_on_one_page(api: Any, pack: Json) -> None:
    path = pack["files"]["full_size"]
    whole = api.get(path)
    assert whole.status_code == 200, whole.text
    with pikepdf.open(io.BytesIO(whole.content)) as pdf:
        (page,) = pdf.pages
        left, bottom, right, top = (float(side) * 25.4 / 72 for side in page.TrimBox)
    picture = pack["plan"]["picture"]
    size_mm = (picture["width_mm"], picture["height_mm"])
    assert (right - left, top - bottom) == pytest.approx(size_mm, abs=0.01)
    assert api.get(path, **{"If-None-Match": whole.headers["ETag"]}).status_code == 304
    assert api.get(path, Range="bytes=-5").content == whole.content[-5:]


@pytest.mark.parametrize("label", ["26-9", "1-0", "1.1", "1·1", "A1", "1-1%2e", "..%2fpack"])
def test_a_sheet_that_is_none_is_not_found(api: Any, pack: Json, label: str) -> None:
    answer = api.get(f"{pack['links']['self']}/sheets/{label}.pdf")
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


def messages(answer: requests.Response) -> list[dict[str, str]]:
    """Server-Sent Events (HTML, 9.2) as dictionaries."""
    found: list[dict[str, str]] = []
    for block in answer.content.decode().strip().split("\n\n"):
        pairs = [line.split(": ", 1) for line in block.splitlines() if not line.startswith(":")]
        found.append(dict(pairs))
    return [message for message in found if "data" in message]


def test_progress_is_told_by_events(api: Any, reference: Json) -> None:
    asked = api.ask(reference["id"], title="Watched").json()
    answer = api.get(asked["links"]["events"])
    assert answer.headers["Content-Type"].startswith("text/event-stream")
    assert answer.text.startswith("retry: ")
    told = messages(answer)
    last = json.loads(told[-1]["data"])
    assert last["state"] == "ready"
    assert last == api.get(asked["links"]["self"]).json()
    done = [json.loads(message["data"])["progress"]["done"] for message in told]
    assert done == sorted(done)
    seen = api.get(asked["links"]["events"], **{"Last-Event-ID": told[-1]["id"]})
    assert seen.status_code == 204
    again = api.get(asked["links"]["events"], **{"Last-Event-ID": told[0]["id"]})
    assert [message["id"] for message in messages(again)] == [told[-1]["id"]]


def test_the_same_photo_sent_twice_is_taken_in_once(api: Any, photo: bytes) -> None:
    first, again = (api.upload(photo, **{"Idempotency-Key": "photo-1"}) for _ in range(2))
    assert first.status_code == again.status_code == 201
    assert first.content == again.content
    assert first.headers["Location"] == again.headers["Location"] == first.json()["links"]["self"]
    other = api.upload(photo + b" ", **{"Idempotency-Key": "photo-1"})
    assert (other.status_code, other.json()["code"]) == (422, "idempotency-key-reused")


def test_the_same_wish_sent_twice_makes_one_pack(api: Any, reference: Json) -> None:
    first, again = (api.ask(reference["id"], key="pack-1", title="Once") for _ in range(2))
    assert first.status_code == again.status_code == 202
    assert first.content == again.content
    other = api.ask(reference["id"], key="pack-1", title="Twice")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency-key-reused")
    assert api.ask(reference["id"]).json()["id"] != api.ask(reference["id"]).json()["id"]


def test_a_request_that_failed_leaves_its_key_free(api: Any, reference: Json) -> None:
    spec = {"support": {"width_mm": 600, "height_mm": 400}, "sheet": {"format": "unknown"}}
    refused = api.ask(reference["id"], key="pack-2", spec=spec)
    assert (refused.status_code, refused.json()["code"]) == (422, "sheet-format-unknown")
    assert refused.json()["field"] == "sheet.format"
    assert api.ask(reference["id"], key="pack-2").status_code == 202


@pytest.mark.parametrize("key", ["two words", "x" * 256])
def test_a_key_that_is_none_is_refused(api: Any, reference: Json, key: str) -> None:
    answer = api.ask(reference["id"], key=key)
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency-key-invalid")
    assert answer.json()["field"] == "Idempotency-Key"


def test_cancelling_then_deleting(api: Any, reference: Json) -> None:
    spec = {"support": {"width_mm": 2000, "height_mm": 1500}}
    asked = [api.ask(reference["id"], spec=spec).json()["links"]["self"] for _ in range(4)]
    for path in reversed(asked):
        answer = api.delete(path)
        assert answer.status_code in {202, 204}
        if answer.status_code == 202:
            assert api.ended(path)["state"] == "cancelled"
            refused = api.get(f"{path}/pack.pdf")
            assert (refused.status_code, refused.json()["code"]) == (409, "pack-not-ready")
            assert api.delete(path).status_code == 204
        assert api.get(path).status_code == 404


def test_deleting_a_photo_deletes_all_that_was_made_of_it(
    api: Any, running: Any, photo: bytes
) -> None:
    reference = api.upload(photo).json()
    pack = api.ended(api.ask(reference["id"]).json()["links"]["self"])
    assert list(running.data_dir.rglob(f"{pack['id']}/*/pack.pdf"))
    assert api.delete(reference["links"]["self"]).status_code == 204
    for path in (reference["links"]["self"], reference["links"]["preview"], pack["files"]["pack"]):
        assert api.get(path).status_code == 404
    assert not list(running.data_dir.rglob(f"{pack['id']}/**/*"))
    assert not list(running.data_dir.rglob(f"{reference['id']}/**/*"))
    body = {"reference_id": reference["id"], "spec": {"support": {"width_mm": 99, "height_mm": 99}}}
    gone = requests.post(f"{api.url}/v1/plans", json=body, timeout=30)
    assert (gone.status_code, gone.json()["field"]) == (404, "reference_id")


@pytest.mark.parametrize("path", ["/v1/sheet-formats", "/v1/supports"])
def test_sizes_are_told_with_their_source(api: Any, path: str) -> None:
    items = api.get(path).json()["items"]
    assert all(item["source"] and item["width_mm"] > 0 for item in items)
    if path.endswith("formats"):
        # PWG 5101.1 names A4 so, ISO 216 gives its size.
        a4 = next(item for item in items if item["name"] == "iso_a4_210x297mm")
        assert (a4["width_mm"], a4["height_mm"]) == (210, 297)


def test_whoever_watches_finds_what_it_needs(api: Any, pack: Json) -> None:
    assert pack["state"] == "ready"
    assert api.get("/healthz").json() == {"status": "ok"}
    ready = api.get("/readyz").json()
    parts = ("ledger", "migrations", "storage", "room", "worker", "broker", "workers", "clock")
    assert ready == {"status": "ready", "checks": dict.fromkeys(parts, "ok"), "todo": {}}
    figures = api.get("/metrics")
    assert figures.headers["Content-Type"].startswith("text/plain; version=0.0.4")
    lines = dict(line.rsplit(" ", 1) for line in figures.text.splitlines() if line[0] != "#")
    assert float(lines['ricalco_packs{state="ready"}']) >= 1
    # The worker's counts, which it keeps in the same data folder.
    assert float(lines["ricalco_packs_made_total"]) >= 1
    assert float(lines['ricalco_make_step_seconds_count{step="sheets"}']) >= 1


def test_answers_carry_safe_headers(api: Any) -> None:
    for path in ("/healthz", "/v1/nothing"):
        headers = api.get(path).headers
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Content-Security-Policy"].startswith("default-src 'none'")
        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["Cache-Control"] == "no-store"
        assert "Server" not in headers


def test_foreign_pages_are_refused_by_the_real_server(api: Any) -> None:
    assert api.get("/healthz", Host="rebound.example").status_code == 421
    assert api.get("/healthz", Origin="http://rebound.example").status_code == 403


def test_the_log_tells_no_secrets(api: Any, running: Any, pack: Json) -> None:
    api.get(pack["files"]["pack"])
    lines = running.log.read_text().splitlines()
    # A worker's lines name the pack that they are about, by its id and nothing else.
    told = [line for line in lines if line.startswith("{")]
    log = "\n".join(line for line in told if not re.search(r'"event": "Pack pck_[\w-]+ ', line))
    assert '"route": "/v1/packs/<pack_id:pack_id>/pack.pdf"' in log
    assert pack["title"] not in "\n".join(lines)
    for secret in (pack["id"], pack["title"], "photo.jpg", "photo-1", "pack-1"):
        assert secret not in log


def test_the_same_photo_sent_at_the_same_moment_is_taken_in_once(api: Any, photo: bytes) -> None:
    def send(_: int) -> requests.Response:
        answer: requests.Response = api.upload(photo, **{"Idempotency-Key": "photo-2"})
        return answer

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(send, range(6)))
    taken = [answer for answer in answers if answer.status_code == 201]
    waiting = [answer for answer in answers if answer.status_code == 409]
    assert len(taken) + len(waiting) == 6
    assert len({answer.json()["id"] for answer in taken}) == 1
    assert {answer.json()["code"] for answer in waiting} <= {"idempotency-key-in-progress"}


def test_events_come_as_they_happen(api: Any, reference: Json) -> None:
    spec = {"support": {"width_mm": 3000, "height_mm": 2000}}
    asked = api.ask(reference["id"], spec=spec).json()
    with requests.get(api.url + asked["links"]["events"], stream=True, timeout=60) as answer:
        told = [(time.monotonic(), line) for line in answer.iter_lines() if line[:6] == b"data: "]
    # Were they held back, all would have come at once.
    moments = [moment for moment, _ in told]
    assert len(moments) >= 3
    assert moments[-1] - moments[0] > 0.2
    # A pack of 110 sheets has a plan of a hundred kilobytes: it is sent once.
    *news, whole = [line for _, line in told]
    assert max(map(len, news)) < 200 < len(whole) / 100
    assert json.loads(whole.removeprefix(b"data: "))["plan"]["sheet_count"] > 100
