"""From what happened to a receiver that verifies it: signed, at least once."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from datetime import datetime

import pytest
from standardwebhooks import Webhook, WebhookVerificationError

from tests.servers.webhook_receivers import LOOPBACK, PATIENCE_S, Receiver
from tests.unit.jobs.upkeep.webhooks.conftest import Hooked, hook
from tests.waiting import wait_until
from worker.errors import LedgerUnavailable
from worker.jobs.upkeep.sweeper import Sweeper, WorkerResources
from worker.jobs.upkeep.webhooks import messages
from worker.jobs.upkeep.webhooks.delivery import SENDERS, Delivery
from worker.jobs.upkeep.webhooks.posting import Poster
from worker.store.ledger import Ledger, Result, Sending


@pytest.fixture
def delivery(ledger: Ledger, poster: Poster) -> Delivery:
    return Delivery(ledger, poster, threading.Event())


def test_what_happened_arrives_signed(
    hooked: Hooked, receiver: Receiver, delivery: Delivery
) -> None:
    student = hooked.happens()
    assert delivery.send_due() == 1
    (request,) = receiver.requests
    assert request.line == "POST /hooks?from=ricalco HTTP/1.1"
    assert request.headers["host"] == f"127.0.0.1:{receiver.port}"
    assert request.headers["content-type"] == "application/json"
    # The standard's own package verifies it.
    told = Webhook(hooked.issued.secret).verify(request.body, request.headers)
    (row,) = hooked.ledger.deliveries.of_webhook(hooked.id)
    assert request.headers["webhook-id"] == row.id
    assert told["type"] == "student.joined"
    assert told["data"] == {"id": student}
    assert abs(datetime.fromisoformat(told["timestamp"]).timestamp() - row.at) < 0.001
    assert set(told) == {"type", "timestamp", "data"}
    assert "Zoë" not in str(told)
    assert row.state == "delivered"
    assert [(one.outcome, one.status) for one in row.attempts] == [("delivered", 204)]
    assert delivery.send_due() == 0


def test_another_secret_does_not_verify_it(
    hooked: Hooked, receiver: Receiver, delivery: Delivery
) -> None:
    hooked.happens()
    delivery.send_due()
    (request,) = receiver.requests
    other = hooked.ledger.webhooks.add(hooked.tutor, receiver.url, ("pack.ready",)).secret
    with pytest.raises(WebhookVerificationError):
        Webhook(other).verify(request.body, request.headers)


def test_while_secrets_overlap_both_verify(
    hooked: Hooked, receiver: Receiver, delivery: Delivery
) -> None:
    new = hooked.ledger.webhooks.rotate(hooked.id, hooked.tutor, 3600.0)
    assert new.webhook.old_secret_until is not None
    hooked.happens()
    delivery.send_due()
    for secret in (hooked.issued.secret, new.secret):
        Webhook(secret).verify(receiver.requests[0].body, receiver.requests[0].headers)
    newest = hooked.ledger.webhooks.rotate(hooked.id, hooked.tutor, 0.0)
    hooked.happens("Ada")
    delivery.send_due()
    Webhook(newest.secret).verify(receiver.requests[1].body, receiver.requests[1].headers)
    for secret in (hooked.issued.secret, new.secret):
        with pytest.raises(WebhookVerificationError):
            Webhook(secret).verify(receiver.requests[1].body, receiver.requests[1].headers)


def test_two_upkeeps_at_once_send_each_once(
    hooked: Hooked, receiver: Receiver, ledger: Ledger, poster: Poster
) -> None:
    students = {hooked.happens(f"Student {number}") for number in range(12)}
    both = [Delivery(ledger, poster, threading.Event()) for _ in range(2)]
    threads = [threading.Thread(target=one.send_due) for one in both for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    # A thread ends when another sends to the same receiver; the next sweep sends the rest.
    for one in both:
        one.send_due()
    told = [json.loads(one.body)["data"]["id"] for one in receiver.requests]
    assert len(told) == 12
    assert set(told) == students
    assert len({one.headers["webhook-id"] for one in receiver.requests}) == 12


def test_a_sender_that_died_is_followed_by_another_under_the_same_id(
    hooked: Hooked, receiver: Receiver, delivery: Delivery, monkeypatch: pytest.MonkeyPatch
) -> None:
    hooked.happens()
    lost = hooked.ledger.deliveries.claim()
    assert lost is not None
    # As long as it may be alive, nobody else sends it.
    assert delivery.send_due() == 0
    later = lost.at + 121
    monkeypatch.setattr(hooked.ledger.deliveries, "_clock", lambda: later)
    assert delivery.send_due() == 1
    assert receiver.requests[0].headers["webhook-id"] == lost.id
    # The one that was lost comes back, and its word does not count any more.
    assert not hooked.ledger.deliveries.record(lost, Result(outcome="unreachable"))
    assert hooked.ledger.deliveries.of_webhook(hooked.id)[0].state == "delivered"


def senders() -> list[threading.Thread]:
    """The threads that send."""
    return [one for one in threading.enumerate() if one.name == "webhooks"]


def test_a_sweep_starts_sending_where_something_is_due(
    hooked: Hooked, receiver: Receiver, resources: WorkerResources
) -> None:
    settings = replace(resources.settings, webhook_networks=LOOPBACK)
    sweeper = Sweeper(replace(resources, settings=settings))
    sweeper.sweep()
    assert senders() == []
    hooked.happens()
    sweeper.sweep()
    wait_until(lambda: receiver.requests and not senders())
    assert hooked.ledger.deliveries.of_webhook(hooked.id)[0].state == "delivered"


def test_slow_receivers_of_one_tutor_leave_room_for_the_others(
    ledger: Ledger, receiver: Receiver
) -> None:
    slow, released, begun = "http://slow.example/hooks", threading.Event(), []

    class Held(Poster):
        """Sends to one address no sooner than the test lets it."""

        def post(self, url: str, body: str, headers: dict[str, str]) -> Result:
            if url != slow:
                return super().post(url, body, headers)
            begun.append(url)
            assert released.wait(PATIENCE_S)
            return Result(outcome="delivered", status=204)

    first = hook(ledger, slow)
    for _ in range(SENDERS):
        ledger.webhooks.add(first.tutor, slow, ("student.joined",))
    first.happens()
    student = hook(ledger, receiver.url).happens()
    Delivery(ledger, Held(networks=LOOPBACK), threading.Event()).start_sending()
    try:
        wait_until(lambda: receiver.requests or len(begun) == SENDERS)
        assert [json.loads(one.body)["data"]["id"] for one in receiver.requests] == [student]
        assert len(begun) < SENDERS
    finally:
        released.set()
        wait_until(lambda: not senders())
    assert len(begun) == SENDERS + 1


def test_a_ledger_that_fails_stops_no_sweep(
    hooked: Hooked, resources: WorkerResources, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> bool:
        raise LedgerUnavailable("no")

    monkeypatch.setattr(resources.ledger.deliveries, "due", fail)
    monkeypatch.setattr(resources.ledger.deliveries, "claim", fail)
    scrubbed: list[bool] = []
    monkeypatch.setattr(resources.ledger, "scrub", lambda: scrubbed.append(True))
    hooked.happens()
    Sweeper(resources).sweep()
    assert scrubbed == [True]
    assert Delivery(resources.ledger, Poster(), threading.Event()).send_due() == 0


def test_one_that_cannot_be_sent_at_all_keeps_no_other(
    hooked: Hooked,
    receiver: Receiver,
    delivery: Delivery,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    first, second = hooked.happens("Zoë"), hooked.happens("Ada")

    def body_of(message: Sending) -> str:
        if message.about == first:
            raise ZeroDivisionError
        return messages.body_of(message)

    monkeypatch.setattr("worker.jobs.upkeep.webhooks.delivery.body_of", body_of)
    assert delivery.send_due() == 2
    assert [json.loads(one.body)["data"]["id"] for one in receiver.requests] == [second]
    rows = {one.about: one for one in hooked.ledger.deliveries.of_webhook(hooked.id)}
    assert (rows[first].state, rows[second].state) == ("waiting", "delivered")
    assert "cannot be sent" in caplog.text
