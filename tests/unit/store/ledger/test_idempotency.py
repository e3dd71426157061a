"""Idempotency keys, after the IETF draft "The Idempotency-Key HTTP Header Field"."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import sqlalchemy as sa

from tests.clock import Clock
from tests.unit.store.ledger.conftest import Asker
from worker.errors import KeyInProgress, KeyReused
from worker.store.ledger import (
    HeldKey,
    IdempotentAnswer,
    Ledger,
    NewPack,
    PackRow,
    Replay,
    idempotency,
    new_id,
)
from worker.store.ledger.idempotency import ANSWER_KEPT_S, KEY_HOLD_S
from worker.store.ledger.tables import ANSWER_SUBJECTS


def fresh(ledger: Ledger, key: str = "k", fingerprint: str = "f") -> HeldKey:
    begun = ledger.begin("local", key, fingerprint)
    assert isinstance(begun, HeldKey)
    return begun


def test_the_same_request_again_gets_the_same_answer(ledger: Ledger) -> None:
    ledger.complete(fresh(ledger), 202, '{"id": "pck_1"}')
    assert ledger.begin("local", "k", "f") == Replay(202, '{"id": "pck_1"}')


def test_another_request_with_the_key_is_refused(ledger: Ledger) -> None:
    begun = fresh(ledger)
    with pytest.raises(KeyReused):
        ledger.begin("local", "k", "other")
    ledger.complete(begun, 202, "{}")
    with pytest.raises(KeyReused) as caught:
        ledger.begin("local", "k", "other")
    assert caught.value.field == "Idempotency-Key"


def test_a_request_under_way_is_not_begun_again(ledger: Ledger) -> None:
    fresh(ledger)
    with pytest.raises(KeyInProgress):
        ledger.begin("local", "k", "f")


def test_a_request_that_made_nothing_frees_its_key(ledger: Ledger) -> None:
    ledger.abandon(fresh(ledger))
    ledger.abandon(fresh(ledger, fingerprint="other"))


def test_an_answer_is_not_abandoned(ledger: Ledger) -> None:
    begun = fresh(ledger)
    ledger.complete(begun, 202, "{}")
    ledger.abandon(begun)
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")


def test_a_request_that_died_loses_its_key_and_its_say(ledger: Ledger, clock: Clock) -> None:
    dead = fresh(ledger)
    clock.now += KEY_HOLD_S
    alive = fresh(ledger)
    with pytest.raises(KeyInProgress):
        ledger.complete(dead, 500, "late")
    ledger.renew([dead])
    ledger.abandon(dead)
    with pytest.raises(KeyInProgress):
        ledger.begin("local", "k", "f")
    ledger.complete(alive, 202, "{}")
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")


def test_a_request_under_way_keeps_its_key_as_long_as_it_says_so(
    ledger: Ledger, clock: Clock
) -> None:
    begun = fresh(ledger)
    for _ in range(5):
        clock.now += KEY_HOLD_S - 1
        ledger.renew([begun])
        with pytest.raises(KeyInProgress):
            ledger.begin("local", "k", "f")
    ledger.complete(begun, 202, "{}")
    clock.now += KEY_HOLD_S - 1
    ledger.renew([begun])
    clock.now += ANSWER_KEPT_S - KEY_HOLD_S
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")


def test_who_was_only_slow_still_leaves_his_answer(ledger: Ledger, clock: Clock) -> None:
    """A laptop may sleep in the midst of a request."""
    slow = fresh(ledger)
    clock.now += 100 * KEY_HOLD_S
    assert ledger.forget_expired_keys() == 0
    ledger.complete(slow, 202, "{}")
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")


def test_of_a_request_and_its_repetition_one_makes_the_thing(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    new = [NewPack(reference_id=asker.reference.id, spec={}) for _ in range(2)]
    keeps = []
    for _ in new:
        keeps.append(IdempotentAnswer(held_key=fresh(ledger), answer=lambda row: (202, row.id)))
        clock.now += KEY_HOLD_S
    made = ledger.enqueue(new[1], keeps[1])
    with pytest.raises(KeyInProgress):
        ledger.enqueue(new[0], keeps[0])
    assert ledger.waiting() == 1
    assert ledger.begin("local", "k", "f") == Replay(202, made.id)


def test_an_answer_is_kept_a_day_and_then_swept(ledger: Ledger, clock: Clock) -> None:
    ledger.complete(fresh(ledger), 202, "{}")
    clock.now += ANSWER_KEPT_S - 1
    assert ledger.forget_expired_keys() == 0
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")
    clock.now += 1
    assert ledger.forget_expired_keys() == 1
    fresh(ledger)


def test_a_pack_and_its_answer_are_committed_together(ledger: Ledger, asker: Asker) -> None:
    def answer(row: PackRow) -> tuple[int, str]:
        return 202, row.id

    new = NewPack(reference_id=asker.reference.id, spec={})
    row = ledger.enqueue(new, IdempotentAnswer(held_key=fresh(ledger), answer=answer))
    assert ledger.begin("local", "k", "f") == Replay(202, row.id)


def test_no_pack_where_its_answer_cannot_be_made(ledger: Ledger, asker: Asker) -> None:
    def answer(row: PackRow) -> tuple[int, str]:
        raise ZeroDivisionError(row.id)

    new = NewPack(reference_id=asker.reference.id, spec={})
    with pytest.raises(ZeroDivisionError):
        ledger.enqueue(new, IdempotentAnswer(held_key=fresh(ledger), answer=answer))
    assert ledger.waiting() == 0


def test_an_answer_goes_with_whatever_it_names(ledger: Ledger, asker: Asker) -> None:
    # An id's letters may look like the beginning of another id.
    kept, gone = asker.ask(), asker.ask()
    answers = {"one": f'"{gone.id}"', "two": f'"_x-pck_{gone.id}/events"', "other": kept.id}
    for key, body in answers.items():
        ledger.complete(fresh(ledger, key), 202, body)
    for _ in range(2):
        ledger.cancel_or_delete(gone.id, "local")
    assert isinstance(ledger.begin("local", "one", "f"), HeldKey)
    assert isinstance(ledger.begin("local", "two", "f"), HeldKey)
    assert ledger.begin("local", "other", "f") == Replay(202, kept.id)


def test_a_deletion_costs_the_same_however_many_answers_are_kept(
    ledger: Ledger, asker: Asker
) -> None:
    if not ledger._database.sqlite:
        pytest.skip("SQLite alone counts the steps of its own program")
    costs = []
    for kept in (20, 400):
        with ledger._database.writing() as connection:
            for _ in range(kept):
                begun = idempotency.begin(connection, "local", new_id("key_"), "f", 1_000_000.0)
                assert isinstance(begun, HeldKey)
                body = f'{{"id": "{new_id("pck_")}"}}'
                idempotency.complete(connection, begun, 202, body, 1_000_000.0)
        gone = asker.ask()
        ledger.complete(fresh(ledger, gone.id), 202, gone.id)
        ledger.cancel_or_delete(gone.id, "local")
        costs.append(steps(ledger, lambda gone=gone: ledger.cancel_or_delete(gone.id, "local")))
        assert isinstance(ledger.begin("local", gone.id, "f"), HeldKey)
    # A search from the root of a larger index takes a step or two more.
    assert costs[1] < 1.2 * costs[0]


def steps(ledger: Ledger, act: Callable[[], object]) -> int:
    """Instructions of SQLite's virtual machine, https://sqlite.org/c3ref/progress_handler.html."""
    counted = [0]

    def count() -> int:
        counted[0] += 1
        return 0

    def begin(connection: sa.Connection) -> None:
        driver = connection.connection.driver_connection
        assert driver is not None
        driver.set_progress_handler(count, 1)

    sa.event.listen(ledger._database.engine, "begin", begin)
    try:
        act()
    finally:
        sa.event.remove(ledger._database.engine, "begin", begin)
        with ledger._database.engine.connect() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.set_progress_handler(None, 1)
    return counted[0]


def test_what_is_deleted_with_a_class_is_in_no_answer(ledger: Ledger) -> None:
    """However many there are, and whoever asked."""
    tutor, _ = ledger.people.add_tutor("Ada")
    asker = Asker(ledger, tutor.id)
    asked = [asker.ask() for _ in range(40)]
    ledger.complete(fresh(ledger, "all"), 202, " ".join(row.id for row in asked))
    ledger.complete(fresh(ledger, "photo"), 202, asker.reference.id)
    ledger.complete(fresh(ledger, "person"), 202, tutor.id)
    ledger.complete(fresh(ledger, "none"), 202, new_id("pck_"))
    ledger.people.erase(tutor.id)
    assert [type(ledger.begin("local", key, "f")) for key in ("all", "photo", "person")] == [
        HeldKey
    ] * 3
    assert isinstance(ledger.begin("local", "none", "f"), Replay)


def test_what_an_answer_names_goes_and_moves_with_it(
    ledger: Ledger, asker: Asker, clock: Clock
) -> None:
    asked = asker.ask()
    ledger.complete(fresh(ledger, "late"), 202, asked.id)
    clock.now += ANSWER_KEPT_S
    assert ledger.forget_expired_keys() == 1
    ledger.complete(fresh(ledger), 202, asked.id)
    tutor, _ = ledger.people.add_tutor("Ada")
    with ledger._database.reading() as connection:
        named = connection.execute(sa.select(ANSWER_SUBJECTS.c.owner_id, ANSWER_SUBJECTS.c.key))
        assert named.all() == [(tutor.id, "k")]
    for _ in range(2):
        ledger.cancel_or_delete(asked.id, tutor.id)
    assert isinstance(ledger.begin(tutor.id, "k", "f"), HeldKey)
