"""Webhooks belong to who registers them; secrets are shown once and overlap when they change."""

from __future__ import annotations

import base64
import threading

import pytest
import sqlalchemy as sa

from tests.clock import Clock
from tests.unit.store.ledger.webhooks.conftest import URL, Room
from worker.errors import LimitReached, NotFound
from worker.store.ledger import EVENTS, Ledger
from worker.store.ledger.tables import WEBHOOKS
from worker.store.ledger.webhooks.records import MOST_WEBHOOKS


def test_a_secret_is_as_the_standard_says(room: Room) -> None:
    """Standard Webhooks 1.0.0: whsec_, and base 64 of 24 to 64 random bytes."""
    made = [room.ledger.webhooks.add(room.site, URL, tuple(EVENTS)).secret for _ in range(2)]
    assert made[0] != made[1]
    for secret in made:
        assert secret.startswith("whsec_")
        assert 24 <= len(base64.b64decode(secret.removeprefix("whsec_"), validate=True)) <= 64


def test_who_sees_a_webhook(room: Room) -> None:
    hooks = room.ledger.webhooks
    of_site, own = room.hook(room.site), room.hook(room.tutor)
    stranger = room.ledger.people.add_tutor("Eve")[0].id
    assert {one.id for one in hooks.of(room.tutor)} == {of_site, own}
    assert [one.id for one in hooks.of(room.site)] == [of_site]
    assert hooks.of(stranger) == ()
    assert hooks.get(of_site, room.tutor).owner_id == room.site
    for who, hook in ((room.site, own), (stranger, own), (stranger, of_site)):
        assert not room.ledger.people.sees(who, "webhook_id", hook)
        for call in (
            lambda who=who, hook=hook: hooks.get(hook, who),
            lambda who=who, hook=hook: hooks.change(hook, who, {"enabled": False}),
            lambda who=who, hook=hook: hooks.rotate(hook, who, 0.0),
            lambda who=who, hook=hook: hooks.delete(hook, who),
        ):
            with pytest.raises(NotFound):
                call()


def secrets_of(ledger: Ledger, room: Room) -> tuple[str, ...]:
    """What signs the next message."""
    row = ledger.students.add(room.class_id, room.tutor, ["Kit"])[0]
    ledger.students.join(room.class_id, name="Kit")
    message = ledger.deliveries.claim()
    assert message is not None
    ledger.students.delete(row.id, room.tutor)
    return message.secrets


def test_secrets_overlap_and_end(room: Room, clock: Clock) -> None:
    ledger = room.ledger
    ledger.classes.change(room.class_id, room.tutor, {"joining_open": True})
    first = ledger.webhooks.add(room.site, URL, ("student.joined",))
    hook = first.webhook.id
    assert secrets_of(ledger, room) == (first.secret,)
    second = ledger.webhooks.rotate(hook, room.site, 60.0)
    assert second.webhook.old_secret_until == clock.now + 60
    assert secrets_of(ledger, room) == (second.secret, first.secret)
    third = ledger.webhooks.rotate(hook, room.site, 60.0)
    assert secrets_of(ledger, room) == (third.secret, second.secret)
    clock.now += 60
    assert secrets_of(ledger, room) == (third.secret,)
    last = ledger.webhooks.rotate(hook, room.site, 0.0)
    assert secrets_of(ledger, room) == (last.secret,)
    with ledger._database.reading() as connection:
        assert connection.execute(sa.select(WEBHOOKS.c.old_secret)).scalar_one() is None


def test_how_many_there_may_be(room: Room) -> None:
    for _ in range(MOST_WEBHOOKS):
        room.hook(room.site)
    with pytest.raises(LimitReached):
        room.hook(room.site)
    room.hook(room.tutor)


def test_of_two_makers_that_end_a_batch_at_once_one_tells(room: Room) -> None:
    """Each ends one of its last two packs; neither sees the other's before it commits."""
    hook = room.hook(room.site, "batch.done")
    for _ in range(5):
        room.packs.clear()
        room.ask()
        ready = threading.Barrier(2)

        def make(ready: threading.Barrier = ready) -> None:
            claim = room.ledger.claim(threading.current_thread().name)
            assert claim is not None
            ready.wait(30)
            assert room.ledger.fail(claim, "gave-up", "It did not work.")

        threads = [threading.Thread(target=make) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert room.told(hook).count(("batch.done", room.batch)) == 1
