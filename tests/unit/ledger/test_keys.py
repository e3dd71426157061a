"""Idempotency keys, after the IETF draft "The Idempotency-Key HTTP Header Field"."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from tests.unit.ledger.conftest import Asker, Clock
from worker.errors import KeyInProgress, KeyReused
from worker.ledger import Fresh, KeepAnswer, Ledger, NewPack, PackRow, Replay
from worker.ledger.keys import HELD_S, KEPT_S


def fresh(ledger: Ledger, key: str = "k", fingerprint: str = "f") -> Fresh:
    begun = ledger.begin("local", key, fingerprint)
    assert isinstance(begun, Fresh)
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
    clock.now += HELD_S
    alive = fresh(ledger)
    ledger.complete(dead, 500, "late")
    ledger.abandon(dead)
    with pytest.raises(KeyInProgress):
        ledger.begin("local", "k", "f")
    ledger.complete(alive, 202, "{}")
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")


def test_an_answer_is_kept_a_day_and_then_swept(ledger: Ledger, clock: Clock) -> None:
    ledger.complete(fresh(ledger), 202, "{}")
    clock.now += KEPT_S - 1
    assert ledger.sweep().keys_forgotten == 0
    assert ledger.begin("local", "k", "f") == Replay(202, "{}")
    clock.now += 1
    assert ledger.sweep().keys_forgotten == 1
    fresh(ledger)


def test_a_pack_and_its_answer_are_committed_together(ledger: Ledger, asker: Asker) -> None:
    def answer(row: PackRow) -> tuple[int, str]:
        return 202, row.id

    new = NewPack(reference_id=asker.reference.id, spec={})
    row = ledger.enqueue(new, KeepAnswer(fresh=fresh(ledger), answer=answer))
    assert ledger.begin("local", "k", "f") == Replay(202, row.id)


def test_no_pack_where_its_answer_cannot_be_made(ledger: Ledger, asker: Asker) -> None:
    def answer(row: PackRow) -> tuple[int, str]:
        raise ZeroDivisionError(row.id)

    new = NewPack(reference_id=asker.reference.id, spec={})
    with pytest.raises(ZeroDivisionError):
        ledger.enqueue(new, KeepAnswer(fresh=fresh(ledger), answer=answer))
    assert ledger.waiting() == 0


def test_an_answer_goes_with_whatever_it_names(ledger: Ledger, asker: Asker) -> None:
    # An id's letters may look like the beginning of another id.
    kept, gone = asker.ask(), asker.ask()
    answers = {"one": f'"{gone.id}"', "two": f'"_x-pck_{gone.id}/events"', "other": kept.id}
    for key, body in answers.items():
        ledger.complete(fresh(ledger, key), 202, body)
    for _ in range(2):
        ledger.cancel_or_delete(gone.id, "local")
    assert isinstance(ledger.begin("local", "one", "f"), Fresh)
    assert isinstance(ledger.begin("local", "two", "f"), Fresh)
    assert ledger.begin("local", "other", "f") == Replay(202, kept.id)


def test_many_things_go_with_one_look_at_the_answers(ledger: Ledger) -> None:
    looks: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        looks.append(statement)

    sa.event.listen(ledger._database.engine, "before_cursor_execute", note)
    for count in (1, 40):
        tutor, _ = ledger.people.add_tutor(f"Ada {count}")
        asker = Asker(ledger, tutor.id)
        for _ in range(count):
            asker.ask()
        looks.clear()
        ledger.people.erase(tutor.id)
        searches = [one for one in looks if "idempotency_keys" in one and "body" in one]
        assert 1 <= len(searches) <= 4
