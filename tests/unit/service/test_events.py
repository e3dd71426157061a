"""Streams of events end in good order, whatever happens to the ledger meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from service.app import create_app
from service.desk import EXTENSION, Desk
from worker.errors import LedgerUnavailable
from worker.ledger import NewPack, PackRow, ReferenceRow
from worker.settings import Settings


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path, max_event_streams=1))
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def pack(app: Flask) -> PackRow:
    ledger = app.extensions[EXTENSION].ledger
    photo = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    return ledger.enqueue(NewPack(reference_id=ledger.add_reference(photo).id, spec={}))


def test_a_ledger_that_goes_away_ends_the_stream(
    app: Flask, pack: PackRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk: Desk = app.extensions[EXTENSION]

    def gone(*_: object) -> PackRow:
        raise LedgerUnavailable("The ledger cannot be used now.")

    path = f"/v1/packs/{pack.id}/events"
    for _ in range(2):
        answer = app.test_client().get(path)
        assert answer.status_code == 200
        parts = answer.iter_encoded()
        assert next(parts).startswith(b"retry: ")
        assert b'"state":"queued"' in next(parts)
        with monkeypatch.context() as patch:
            patch.setattr(desk.ledger, "pack", gone)
            assert list(parts) == []
        # Its place is free again: the next one is let in.
        answer.close()
