"""References that were made from others: they go with them, and never outlive them."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa

from worker.errors import LimitReached, NotFound
from worker.store.ledger import HeldKey, IdempotentAnswer, Ledger, NewPack, ReferenceRow, new_id
from worker.store.ledger.erasing import erase_owners, expire

PHOTO = ReferenceRow(width_px=400, height_px=300, format="jpeg", sha256="0" * 64)


def added(ledger: Ledger, made_from: str | None = None, **more: object) -> ReferenceRow:
    fresh = ReferenceRow(
        width_px=400, height_px=300, format="jpeg", sha256="1" * 64, made_from=made_from
    )
    return ledger.add_reference(replace(fresh, **more))  # type: ignore[arg-type]


def pack_of(ledger: Ledger, reference: ReferenceRow) -> str:
    spec = {"support": {"width_mm": 600, "height_mm": 400}}
    return ledger.enqueue(NewPack(reference_id=reference.id, title="Jug", spec=spec)).id


def test_what_was_made_from_a_photo_goes_with_it_however_often(ledger: Ledger) -> None:
    first, other = added(ledger), added(ledger)
    second = added(ledger, first.id)
    third = added(ledger, second.id)
    packs = [pack_of(ledger, one) for one in (first, second, third, other)]
    keys = ledger.delete_reference(first.id, "local")
    assert keys[0] == first.files_key
    assert set(keys) == {
        *(f"references/{one.id}" for one in (first, second, third)),
        *(f"packs/{one}" for one in packs[:3]),
    }
    ids = [one.id for one in (first, second, third, other)]
    assert ledger.known_references(ids) == {other.id}
    assert ledger.pack(packs[3], "local").id == packs[3]


def test_a_photo_stays_when_what_was_made_from_it_goes(ledger: Ledger) -> None:
    first = added(ledger)
    second = added(ledger, first.id)
    assert ledger.delete_reference(second.id, "local") == (second.files_key,)
    assert ledger.reference(first.id, "local") == first


def test_it_is_remembered_what_it_was_made_from(ledger: Ledger) -> None:
    first = added(ledger)
    second = added(ledger, first.id)
    assert first.made_from is None
    assert ledger.reference(second.id, "local").made_from == first.id
    assert ledger.own_reference(second.id, "local") == second


def test_nothing_is_made_from_what_was_deleted_meanwhile(ledger: Ledger) -> None:
    first = added(ledger)
    ledger.delete_reference(first.id, "local")
    with pytest.raises(NotFound):
        added(ledger, first.id)


def test_it_counts_as_a_photo(ledger: Ledger) -> None:
    first = added(ledger)
    row = replace(PHOTO, id="ref_squaredsquaredsq", made_from=first.id)
    with pytest.raises(LimitReached):
        ledger.add_reference(row, most=1)
    assert ledger.add_reference(row, most=2).made_from == first.id


def test_kept_answers_that_name_it_go_too(ledger: Ledger) -> None:
    first = added(ledger)
    begun = ledger.begin("local", "key-1", "fingerprint")
    assert isinstance(begun, HeldKey)
    keep = IdempotentAnswer(held_key=begun, answer=lambda row: (201, f'{{"id": "{row.id}"}}'))
    row = replace(PHOTO, id=new_id("ref_"), made_from=first.id)
    ledger.add_reference(row, keep)
    ledger.delete_reference(first.id, "local")
    assert isinstance(ledger.begin("local", "key-1", "fingerprint"), HeldKey)


def test_a_foreign_photo_is_no_ones_to_make_from(ledger: Ledger) -> None:
    with pytest.raises(NotFound):
        ledger.own_reference(added(ledger).id, "someone")


def test_retention_takes_both_even_where_the_later_one_has_time_left(ledger: Ledger) -> None:
    first = added(ledger, delete_after=100.0)
    second = added(ledger, first.id, delete_after=900.0)
    with ledger._database.writing() as connection:
        keys = expire(connection, now=200.0)
    assert keys == (first.files_key, second.files_key)
    assert ledger.known_references([first.id, second.id]) == set()


def test_a_person_goes_with_photos_and_what_was_made_from_them(ledger: Ledger) -> None:
    first = added(ledger)
    second = added(ledger, first.id)
    with ledger._database.writing() as connection:
        keys = erase_owners(connection, ["local"])
        left = connection.execute(sa.text("SELECT count(*) FROM photos")).scalar_one()
    assert sorted(keys) == sorted([first.files_key, second.files_key])
    assert left == 0
