"""A batch is followed as a pack is: counts at each step, and everything at the end."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.app import create_app
from service.batches.events import event_id
from service.runtime.context import EXTENSION, ServiceContext
from worker.settings import Settings
from worker.store.ledger import (
    Batch,
    BatchItemRow,
    BatchRow,
    NewClass,
    NewItem,
    NewPack,
    Person,
    ReferenceRow,
    Step,
)

A4 = "iso_a4_210x297mm"


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path, max_event_streams=1))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def context(app: Flask) -> ServiceContext:
    found: ServiceContext = app.extensions[EXTENSION]
    return found


@pytest.fixture
def tutor(context: ServiceContext) -> tuple[Person, dict[str, str]]:
    person, issued = context.ledger.people.add_tutor("Ada")
    return person, {"Authorization": f"Bearer {issued.key}"}


@pytest.fixture
def batch(context: ServiceContext, tutor: tuple[Person, dict[str, str]]) -> Batch:
    """Two packs, and a line without one."""
    ledger, owner_id = context.ledger, tutor[0].id
    group = ledger.classes.add(NewClass(tutor_id=owner_id, name="7b"))
    photo = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64, owner_id=owner_id)
    reference_id = ledger.add_reference(photo).id
    row = BatchRow(class_id=group.id, title="Krug")
    items = []
    for position in range(3):
        spec = {"support": {"width_mm": 1, "height_mm": 1}, "sheet": {"format": A4}}
        pack = NewPack(reference_id=reference_id, spec=spec, owner_id=owner_id, total=4)
        line = BatchItemRow(
            batch_id=row.id,
            position=position,
            title="",
            note="",
            pack_id=pack.id if position else None,
            spec=spec,
        )
        items.append(NewItem(row=line, pack=pack if position else None))
    return ledger.batches.add(row, owner_id, items)


def read(parts: Iterator[bytes]) -> tuple[str, dict[str, Any]]:
    """The id and the data of the next message that has any."""
    for part in parts:
        lines = dict(line.partition(": ")[::2] for line in part.decode().splitlines())
        if "data" in lines:
            return lines["id"], dict(json.loads(lines["data"]))
    raise AssertionError("no message came")


def test_messages_tell_counts_and_the_last_one_everything(
    app: Flask, context: ServiceContext, tutor: Any, batch: Batch
) -> None:
    path, headers = f"/v1/batches/{batch.row.id}", tutor[1]
    assert app.test_client().get(path, headers=headers).json["links"]["events"] == f"{path}/events"
    with app.test_client().get(f"{path}/events", headers=headers) as answer:
        parts = answer.iter_encoded()
        assert answer.mimetype == "text/event-stream"
        first, told = read(parts)
        assert told == {
            "state": "making",
            "counts": {"missing": 1, "queued": 2},
            "progress": {"done": 0, "total": 8, "step": "making"},
        }
        claim = context.ledger.claim("w/1")
        assert claim is not None
        context.ledger.heartbeat(claim, Step(done=3, total=4, step="sheets"))
        _, told = read(parts)
        assert told["counts"] == {"missing": 1, "queued": 1, "making": 1}
        if told["progress"]["done"] == 0:
            # Whoever follows may have looked between the claim and its first step.
            _, told = read(parts)
        assert told["progress"]["done"] == 3
        context.ledger.batches.cancel(batch.row.id, tutor[0].id)
        read(parts)
        context.ledger.cancelled(claim)
        last, told = read(parts)
        assert told == app.test_client().get(path, headers=headers).get_json()
        assert told["state"] == "cancelled"
        assert list(parts) == []
    again = app.test_client().get(f"{path}/events", headers={**headers, "Last-Event-ID": last})
    assert (again.status_code, again.data) == (204, b"")
    assert first != last


def test_a_message_that_was_seen_does_not_come_again(app: Flask, tutor: Any, batch: Batch) -> None:
    path = f"/v1/batches/{batch.row.id}/events"
    with app.test_client().get(path, headers=tutor[1]) as answer:
        seen, _ = read(answer.iter_encoded())
    headers = {**tutor[1], "Last-Event-ID": seen}
    with app.test_client().get(path, headers=headers) as answer:
        parts = answer.iter_encoded()
        assert next(parts).startswith(b"retry: ")
        # The only place is taken: another stream is refused until this one ends.
        full = app.test_client().get(path, headers=tutor[1])
        assert (full.status_code, full.json["code"]) == (503, "busy")
        assert int(full.headers["Retry-After"]) > 0
        app.extensions[EXTENSION].ledger.batches.cancel(batch.row.id, tutor[0].id)
        assert read(parts)[0] != seen


def test_a_batch_that_is_deleted_is_told_as_gone(
    app: Flask, context: ServiceContext, tutor: Any, batch: Batch
) -> None:
    path = f"/v1/batches/{batch.row.id}/events"
    with app.test_client().get(path, headers=tutor[1]) as answer:
        parts = answer.iter_encoded()
        read(parts)
        context.ledger.batches.delete(batch.row.id, tutor[0].id)
        assert list(parts) == [b"event: gone\ndata: {}\n\n"]


def test_progress_is_the_owners_alone(context: ServiceContext, tutor: Any, batch: Batch) -> None:
    other, _ = context.ledger.people.add_tutor("Eve")
    batch_id, tutor_id = batch.row.id, tutor[0].id
    found = context.ledger.batches.progress({tutor_id: [batch_id], other.id: [batch_id]})
    assert list(found) == [(tutor_id, batch_id)]
    assert event_id(found[tutor_id, batch_id]) == "0-8-mi1-qu2"
