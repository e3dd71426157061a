"""What is sent when, what is recorded of it, and when a webhook is given up."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import closing

import pytest

from tests.clock import Clock
from tests.unit.store.ledger.webhooks.conftest import SCOPES, Room
from worker.errors import NotFound, WebhookDisabled
from worker.store.ledger import KEPT_DAYS, Ledger, Page, Result, Sending
from worker.store.ledger.webhooks.records import (
    FAILING_S,
    JITTER,
    LEASE_S,
    LONGEST_ASKED_S,
    MOST_AT_ONCE,
    MOST_ATTEMPTS,
    PAUSES_S,
)

DAY_S = 24 * 3600.0
REFUSED = Result(outcome="refused", status=500, took_s=0.2)
ARRIVED = Result(outcome="delivered", status=204, took_s=0.1)


@pytest.fixture
def told(room: Room) -> Room:
    """One pack is ready, and its site is to be told."""
    room.hook_id = room.hook(room.site, "pack.ready")
    room.ask()
    room.make()
    return room


def claim(ledger: Ledger) -> Sending:
    found = ledger.deliveries.claim()
    assert found is not None
    return found


def fail_until_given_up(told: Room, clock: Clock) -> list[float]:
    """The pauses between the tries of the one message, in s."""
    pauses = []
    while (message := told.ledger.deliveries.claim()) is not None:
        assert told.ledger.deliveries.record(message, REFUSED)
        (row,) = told.ledger.deliveries.of_webhook(told.hook_id)
        if row.next_at is None:
            break
        assert not told.ledger.deliveries.due()
        pauses.append(row.next_at - clock.now)
        clock.now = row.next_at
    return pauses


def test_a_message_is_sent_again_for_a_day(told: Room, clock: Clock) -> None:
    pauses = fail_until_given_up(told, clock)
    assert len(pauses) == len(PAUSES_S)
    for found, meant in zip(pauses, PAUSES_S, strict=True):
        assert meant * (1 - JITTER) <= found <= meant * (1 + JITTER)
    # Not all of them exactly: what failed together does not come back together.
    assert tuple(pauses) != PAUSES_S
    assert sum(PAUSES_S) == pytest.approx(DAY_S, rel=0.05)
    (row,) = told.ledger.deliveries.of_webhook(told.hook_id)
    assert row.state == "failed"
    assert [one.number for one in row.attempts] == list(range(1, len(PAUSES_S) + 2))
    assert {(one.outcome, one.status, one.took_s) for one in row.attempts} == {
        ("refused", 500, 0.2)
    }
    assert told.ledger.webhooks.get(told.hook_id, told.site).failing_since is not None


def test_the_receiver_may_ask_for_a_longer_pause(told: Room, clock: Clock) -> None:
    for asked_s, least_s in ((600.0, 600.0), (1e9, LONGEST_ASKED_S), (1.0, 0.8 * PAUSES_S[2])):
        result = Result(outcome="refused", status=503, retry_after_s=asked_s)
        assert told.ledger.deliveries.record(claim(told.ledger), result)
        (row,) = told.ledger.deliveries.of_webhook(told.hook_id)
        assert row.next_at is not None
        pause_s = row.next_at - clock.now
        assert least_s <= pause_s <= max(least_s, 1.2 * PAUSES_S[2])
        clock.now = row.next_at


def test_what_arrives_ends_a_failure(told: Room, clock: Clock) -> None:
    told.ledger.deliveries.record(claim(told.ledger), REFUSED)
    clock.now += 10
    told.ledger.deliveries.record(claim(told.ledger), ARRIVED)
    (row,) = told.ledger.deliveries.of_webhook(told.hook_id)
    assert (row.state, row.delivered_at) == ("delivered", clock.now)
    assert told.ledger.webhooks.get(told.hook_id, told.site).failing_since is None
    assert told.ledger.deliveries.claim() is None


def test_a_webhook_is_disabled_after_days_and_says_so(told: Room, clock: Clock) -> None:
    fail_until_given_up(told, clock)
    assert told.ledger.webhooks.get(told.hook_id, told.site).disabled_at is None
    clock.now += FAILING_S
    told.make()
    fail_until_given_up_second(told, clock)
    row = told.ledger.webhooks.get(told.hook_id, told.site)
    assert (row.disabled_at, row.disabled_because) == (clock.now, "failing")
    (message, _) = told.ledger.deliveries.of_webhook(told.hook_id)
    with pytest.raises(WebhookDisabled):
        told.ledger.deliveries.replay(told.hook_id, message.id)
    enabled = told.ledger.webhooks.change(told.hook_id, told.site, {"enabled": True})
    assert (enabled.disabled_at, enabled.disabled_because, enabled.failing_since) == (None,) * 3
    told.ledger.deliveries.replay(told.hook_id, message.id)
    assert claim(told.ledger).id == message.id


def fail_until_given_up_second(told: Room, clock: Clock) -> None:
    """The newest message fails for a day too."""
    while (message := told.ledger.deliveries.claim()) is not None:
        told.ledger.deliveries.record(message, REFUSED)
        row = told.ledger.deliveries.of_webhook(told.hook_id)[0]
        if row.next_at is not None:
            clock.now = row.next_at


def test_one_that_is_gone_is_disabled_at_once(told: Room) -> None:
    told.ledger.deliveries.record(claim(told.ledger), Result(outcome="gone", status=410))
    row = told.ledger.webhooks.get(told.hook_id, told.site)
    assert row.disabled_because == "gone"
    told.make()
    assert len(told.told(told.hook_id)) == 1
    assert not told.ledger.deliveries.due()


def test_whoever_disables_it_gives_up_what_waits(told: Room) -> None:
    told.ledger.webhooks.change(told.hook_id, told.site, {"enabled": False})
    assert told.ledger.deliveries.of_webhook(told.hook_id)[0].state == "failed"
    assert told.ledger.deliveries.claim() is None


def test_a_message_is_claimed_once_and_again_when_its_sender_died(told: Room, clock: Clock) -> None:
    first = claim(told.ledger)
    assert told.ledger.deliveries.claim() is None
    clock.now += LEASE_S
    second = claim(told.ledger)
    assert (second.id, second.tries) == (first.id, 2)
    assert not told.ledger.deliveries.record(first, ARRIVED)
    assert told.ledger.deliveries.record(second, ARRIVED)


def test_a_slow_receiver_delays_only_its_own(told: Room) -> None:
    other = told.hook(told.tutor, "pack.ready")
    told.make()
    first, second = claim(told.ledger), claim(told.ledger)
    assert {first.webhook_id, second.webhook_id} == {told.hook_id, other}
    assert told.ledger.deliveries.claim() is None


def test_slow_receivers_of_a_tutor_and_their_sites_delay_only_their_own(
    room: Room, clock: Clock
) -> None:
    for owner in (room.site, room.site, room.tutor, room.tutor):
        room.hook(owner, "pack.ready")
    other = Room(room.ledger).furnish()
    hooks = {other.hook(owner, "pack.ready") for owner in (other.tutor, other.site)}
    for one in (room, other):
        clock.now += 1
        one.ask()
        for _ in one.packs:
            one.make()
    slow = [claim(room.ledger) for _ in range(MOST_AT_ONCE)]
    # More of the first tutor's have been due for longer than these.
    assert {claim(room.ledger).webhook_id for _ in range(2)} == hooks
    assert room.ledger.deliveries.claim() is None
    room.ledger.deliveries.record(slow[0], ARRIVED)
    assert claim(room.ledger).webhook_id not in hooks
    assert room.ledger.deliveries.claim() is None
    # What was being sent by processes that died holds up nobody.
    clock.now += LEASE_S
    again = [claim(room.ledger).webhook_id for _ in range(2 * MOST_AT_ONCE)]
    assert len(hooks.intersection(again)) == MOST_AT_ONCE
    assert room.ledger.deliveries.claim() is None


def test_many_that_claim_at_once_keep_to_the_bound(room: Room, url: str, clock: Clock) -> None:
    for _ in range(4):
        room.hook(room.site, "pack.ready")
    room.ask()
    room.make()
    barrier, found = threading.Barrier(4), []

    def take() -> None:
        with closing(Ledger.open(url, clock=clock)) as own:
            own.deliveries.due()
            barrier.wait()
            found.append(own.deliveries.claim())

    threads = [threading.Thread(target=take) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    taken = [one.id for one in found if one is not None]
    assert len(taken) == len(set(taken)) == MOST_AT_ONCE


def test_a_replay_is_the_same_message_and_its_log_is_bounded(told: Room, clock: Clock) -> None:
    first = claim(told.ledger)
    told.ledger.deliveries.record(first, ARRIVED)
    for _ in range(MOST_ATTEMPTS + 3):
        clock.now += 1
        assert told.ledger.deliveries.replay(told.hook_id, first.id).state == "waiting"
        again = claim(told.ledger)
        assert (again.id, again.tries, again.about) == (first.id, 1, first.about)
        told.ledger.deliveries.record(again, ARRIVED)
    (row,) = told.ledger.deliveries.of_webhook(told.hook_id)
    assert [one.number for one in row.attempts] == list(range(5, MOST_ATTEMPTS + 5))
    other = told.hook(told.tutor)
    for hook, message in ((other, first.id), (told.hook_id, "msg_none")):
        with pytest.raises(NotFound):
            told.ledger.deliveries.replay(hook, message)


STOPS: dict[str, Callable[[Room], object]] = {
    "the student is deleted": lambda room: room.ledger.students.delete(
        room.students[0], room.tutor
    ),
    "the pack is deleted": lambda room: room.ledger.cancel_or_delete(room.packs[0], room.tutor),
    "the class is deleted": lambda room: room.ledger.classes.delete(room.class_id, room.tutor),
    "the class is taken from the site": lambda room: room.ledger.sites.change(
        room.site, room.tutor, {"class_ids": []}
    ),
    "the scope is taken from the site": lambda room: room.ledger.sites.change(
        room.site, room.tutor, {"scopes": [one for one in SCOPES if one != "webhooks"]}
    ),
    "the site's time is over": lambda room: room.ledger.sites.change(
        room.site, room.tutor, {"expires_at": 1.0}
    ),
    "the site is deleted": lambda room: room.ledger.sites.delete(room.site, room.tutor),
    "the webhook is deleted": lambda room: room.ledger.webhooks.delete(room.hook_id, room.tutor),
    "the tutor is deleted": lambda room: room.ledger.people.erase(room.tutor),
}


@pytest.mark.parametrize("what", STOPS)
def test_nothing_is_sent_any_more_when(told: Room, what: str) -> None:
    assert told.ledger.deliveries.due()
    STOPS[what](told)
    assert told.ledger.deliveries.claim() is None
    assert not told.ledger.deliveries.due()


def test_a_sites_webhook_stays_when_its_keys_are_withdrawn(told: Room) -> None:
    told.ledger.people.withdraw_key(told.site)
    assert claim(told.ledger).webhook_id == told.hook_id


@pytest.mark.parametrize("what", STOPS)
def test_what_is_being_sent_then_is_recorded_nowhere_wrong(told: Room, what: str) -> None:
    """It is under way while that happens: no error, and it is not sent again."""
    message = claim(told.ledger)
    STOPS[what](told)
    told.ledger.deliveries.record(message, REFUSED)
    assert told.ledger.deliveries.claim() is None


def test_the_log_is_read_in_pages_and_forgotten_in_time(told: Room, clock: Clock) -> None:
    clock.now += 1
    told.make()
    whole = told.ledger.deliveries.of_webhook(told.hook_id)
    first = told.ledger.deliveries.of_webhook(told.hook_id, Page(limit=1))
    assert first == whole  # One more tells that there are more.
    after = (whole[0].at, whole[0].id)
    assert told.ledger.deliveries.of_webhook(told.hook_id, Page(limit=1, after=after)) == whole[1:]
    clock.now += KEPT_DAYS * DAY_S - 1
    told.ledger.forget_expired_keys()
    assert told.ledger.deliveries.of_webhook(told.hook_id) == whole[:1]
    clock.now += 1
    told.ledger.forget_expired_keys()
    assert told.ledger.deliveries.of_webhook(told.hook_id) == ()
