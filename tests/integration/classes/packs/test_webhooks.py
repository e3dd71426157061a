"""Webhooks from registering to a receiver that verifies them, with the real programs."""

from __future__ import annotations

import json
import logging
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks import Webhook

from ricalco_client import Ricalco, StateRefused, WebhookEvent
from tests.integration.classes.conftest import open_room
from tests.integration.classes.studio import TITLES, Studio
from tests.integration.service.conftest import start
from tests.servers.webhook_receivers import LOOPBACK, Receiver
from tests.waiting import wait_until
from worker.store.ledger import EVENTS, SCOPES, Result

HOOKS = "/v1/webhooks"
URL = "https://hooks.example/ricalco"


def test_a_secret_is_shown_once(studio: Studio) -> None:
    site = studio.asker("site A")
    made = site.made(HOOKS, {"url": URL, "events": ["batch.done"]})
    hook, secret = made["webhook"], made["secret"]
    assert (hook["url"], hook["events"], hook["enabled"]) == (URL, ["batch.done"], True)
    assert hook["owner_id"] == studio.ids["site A"]
    rotated = site.made(hook["links"]["secrets"], {"overlap_s": 60})
    assert rotated["secret"] != secret
    assert rotated["webhook"]["old_secret_until"] is not None
    for path in (HOOKS, hook["links"]["self"], hook["links"]["deliveries"]):
        for name in ("site A", "tutor A"):
            text = studio.asker(name).ask("GET", path).text
            assert secret not in text
            assert rotated["secret"] not in text
            assert "whsec_" not in text
    assert site.made(HOOKS, {"url": URL})["webhook"]["events"] == list(EVENTS)


WRONG: list[tuple[dict[str, Any], str]] = [
    ({}, "url"),
    ({"url": "http://hooks.example/"}, "url"),
    ({"url": "https://127.0.0.1:8640/v1/packs"}, "url"),
    ({"url": "https://169.254.169.254/"}, "url"),
    ({"url": "https://[::ffff:10.0.0.1]/"}, "url"),
    ({"url": "https://user@hooks.example/"}, "url"),
    ({"url": URL, "events": []}, "events"),
    ({"url": URL, "events": ["pack.made"]}, "events.0"),
    ({"url": URL, "events": ["pack.ready", "pack.ready"]}, "events"),
    ({"url": URL, "secret": "mine"}, "secret"),
]


def test_what_is_wrong_with_a_webhook_is_named(studio: Studio) -> None:
    for body, field in WRONG:
        answer = studio.asker("site A").ask("POST", HOOKS, json=body)
        assert (answer.status_code, answer.json["field"]) == (422, field), answer.text
    path = f"{HOOKS}/{studio.ids['webhook_id A']}"
    answer = studio.asker("site A").ask("PATCH", path, json={"url": "https://10.0.0.1/"})
    assert (answer.status_code, answer.json["field"]) == (422, "url")
    answer = studio.asker("site A").ask("POST", f"{path}/secrets", json={"overlap_s": 1e9})
    assert (answer.status_code, answer.json["field"]) == (422, "overlap_s")


def test_the_log_tells_how_it_went_and_names_nobody(studio: Studio) -> None:
    deliveries, hook = studio.context.ledger.deliveries, studio.ids["webhook_id A"]
    message = deliveries.claim()
    assert message is not None
    deliveries.record(message, Result(outcome="refused", status=500, took_s=0.25))
    told = studio.asker("site A").ask("GET", f"{HOOKS}/{hook}/deliveries")
    (tried,) = [one for one in told.json["items"] if one["attempts"]]
    (attempt,) = tried["attempts"]
    assert (attempt["outcome"], attempt["status"], attempt["took_s"]) == ("refused", 500, 0.25)
    assert tried["state"] == "waiting"
    assert tried["next_at"] > attempt["at"]
    assert {one["type"] for one in told.json["items"]} == {"pack.ready", "batch.done"}
    for secret in ("Student", "Leïla", "Class", "Monday", URL, *TITLES):
        assert secret not in told.text
    shown = studio.asker("tutor A").ask("GET", f"{HOOKS}/{hook}").json
    assert shown["failing_since"] is not None
    paged, path = [], f"{HOOKS}/{hook}/deliveries?limit=1"
    while path:
        page = studio.asker("site A").ask("GET", path)
        paged += page.json["items"]
        path = page.headers.get("Link", "").partition(">")[0].removeprefix("<")
    assert paged == told.json["items"]


def test_a_webhook_that_is_disabled_says_why_and_is_enabled_again(studio: Studio) -> None:
    deliveries, hook = studio.context.ledger.deliveries, studio.ids["webhook_id A"]
    message = deliveries.claim()
    assert message is not None
    deliveries.record(message, Result(outcome="gone", status=410))
    site, path = studio.asker("site A"), f"{HOOKS}/{hook}"
    shown = site.ask("GET", path).json
    assert shown["enabled"] is False
    assert "410" in shown["disabled_because"]
    replays = f"{path}/deliveries/{message.id}/replays"
    refused = site.ask("POST", replays)
    assert (refused.status_code, refused.json["code"]) == (409, "webhook-disabled")
    assert site.ask("PATCH", path, json={"enabled": True}).json["enabled"] is True
    assert site.ask("POST", replays).json["state"] == "waiting"
    assert site.ask("PATCH", path, json={"enabled": False}).json["enabled"] is False
    assert site.ask("DELETE", path).status_code == 204
    assert site.ask("GET", path).status_code == 404


def test_a_message_is_replayed_through_its_own_webhook_alone(studio: Studio) -> None:
    other = studio.asker("site A").made(HOOKS, {"url": URL})["webhook"]["id"]
    path = f"{HOOKS}/{other}/deliveries/{studio.ids['message_id A']}/replays"
    assert studio.asker("site A").ask("POST", path).status_code == 404


def test_who_registers_where_leaves_a_line(
    studio: Studio, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, logger="ricalco.access"):
        made = studio.asker("site A").made(HOOKS, {"url": URL})
        studio.asker("tutor A").ask("DELETE", made["webhook"]["links"]["self"])
    assert [one.getMessage() for one in caplog.records] == ["webhook-made", "webhook-deleted"]
    told = json.dumps([one.__dict__["facts"] for one in caplog.records])
    assert made["webhook"]["id"][:12] in told
    assert made["secret"] not in told
    assert "hooks.example" not in told


# The real programs.


def events(receiver: Receiver, secret: str) -> list[WebhookEvent]:
    """What arrived; each is verified by the standard's own package and by our library."""
    found = []
    for request in list(receiver.requests):
        Webhook(secret).verify(request.body, request.headers)
        found.append(Ricalco.verify_webhook(request.body, request.headers, secret))
    return found


@pytest.mark.slow
def test_a_course_is_told_what_happens_also_after_it_was_down(
    photo: bytes, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    running = start(tmp_path, WEBHOOK_NETWORKS=LOOPBACK[0])
    request.addfinalizer(lambda: running.process.poll() is None and running.stop())
    room = open_room(running, ("Kit", "王小明"))
    tutor = Ricalco(running.url, key=room.tutor.key)
    wish = {"name": "Pages", "class_ids": [room.class_id], "scopes": list(SCOPES)}
    course = Ricalco(running.url, key=tutor.sites.create(wish)["key"])
    receiver = Receiver().start()
    made = course.webhooks.create(receiver.url)
    secret, hook = made["secret"], made["webhook"]["id"]
    file = tmp_path / "photo.jpg"
    file.write_bytes(photo)
    reference = course.references.upload(file, student_id=room.students[0].id)
    spec = {"support": {"width_mm": 180, "height_mm": 120}}
    items = [{"student": room.students[0].id, "reference_id": reference.id}]
    batch = course.batches.create(room.class_id, {"spec": spec, "items": items})
    wait_until(lambda: len(receiver.requests) >= 2)
    told = events(receiver, secret)
    assert {(one.type, one.id) for one in told} == {
        ("pack.ready", course.batches.get(batch.id).document["items"][0]["pack_id"]),
        ("batch.done", batch.id),
    }
    # It is down when the next thing happens, and up again when that is tried again.
    receiver.stop()
    path = f"/v1/classes/{room.class_id}"
    (student,) = room.tutor.post(f"{path}/students", {"names": ["Leïla"]}).json()["items"]
    class_ = room.tutor.call("PATCH", path, json={"joining_open": True}).json()
    join = {"code": class_["join_code"], "name": "Leïla"}
    assert room.tutor.post("/v1/join", join).status_code == 201
    newest = lambda: next(iter(course.webhooks.deliveries(hook)))  # noqa: E731
    wait_until(lambda: newest()["type"] == "student.joined" and newest()["attempts"])
    assert newest()["attempts"][0]["outcome"] == "unreachable"
    again = Receiver().start(receiver.port)
    wait_until(lambda: again.requests)
    (event,) = events(again, secret)
    assert (event.type, event.id) == ("student.joined", student["id"])
    # Sent again on request, it is the same message.
    course.webhooks.replay(hook, event.message_id)
    wait_until(lambda: len(again.requests) == 2)
    assert events(again, secret)[1].message_id == event.message_id
    # With the site its webhooks go.
    tutor.sites.delete(tutor.sites.every()[0]["id"])
    with pytest.raises(StateRefused):
        tutor.webhooks.get(hook)
    again.stop()
    assert running.stop() == 0
    assert "Traceback" not in running.log.read_text()
