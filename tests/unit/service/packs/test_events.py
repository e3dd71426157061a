"""Streams of events end in good order, whatever happens to the ledger meanwhile."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.app import create_app
from service.http.errors import Busy
from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.limits.kinds_of_work import MOST_STREAMS_EACH, stream_limit
from service.runtime.progress_watch import LOOK_EVERY_S
from worker.errors import LedgerUnavailable, NotFound
from worker.settings import Settings
from worker.store.ledger import NewPack, PackRow, ReferenceRow, Step


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
    context: ServiceContext = app.extensions[EXTENSION]

    def gone(*_: object) -> None:
        raise LedgerUnavailable("The ledger cannot be used now.")

    path = f"/v1/packs/{pack.id}/events"
    for _ in range(2):
        answer = app.test_client().get(path)
        assert answer.status_code == 200
        parts = answer.iter_encoded()
        assert next(parts).startswith(b"retry: ")
        assert b'"state":"queued"' in next(parts)
        with monkeypatch.context() as patch:
            patch.setattr(context.progress_watcher, "_read_rows", gone)
            assert list(parts) == []
        # Its place is free again: the next one is let in.
        answer.close()


def read(parts: Iterator[bytes]) -> dict[str, Any]:
    """The JSON of the next message that has any."""
    for part in parts:
        for line in part.decode().splitlines():
            if line.startswith("data: "):
                return dict(json.loads(line.removeprefix("data: ")))
    raise AssertionError("no message came")


def test_a_message_tells_progress_and_the_last_one_everything(app: Flask, pack: PackRow) -> None:
    context: ServiceContext = app.extensions[EXTENSION]
    with app.test_client().get(f"/v1/packs/{pack.id}/events") as answer:
        parts = answer.iter_encoded()
        queued = {"done": 0, "total": 0, "step": "queued"}
        assert read(parts) == {"state": "queued", "progress": queued}
        claim = context.ledger.claim("w/1")
        assert claim is not None
        context.ledger.heartbeat(claim, Step(done=2, total=6, step="sheets"))
        making = {"done": 2, "total": 6, "step": "sheets"}
        told = read(parts)
        if told["progress"]["done"] == 0:
            # Whoever follows may have looked between the claim and its first step.
            assert told["state"] == "making"
            told = read(parts)
        assert told == {"state": "making", "progress": making}
        context.ledger.cancel_or_delete(pack.id, pack.owner_id)
        assert read(parts) == {"state": "making", "progress": making}
        context.ledger.cancelled(claim)
        assert read(parts) == app.test_client().get(f"/v1/packs/{pack.id}").get_json()
        assert list(parts) == []


def test_one_look_serves_all_who_follow(
    app: Flask, pack: PackRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Streams read no rows of their own, and none at all while nothing is written."""
    context: ServiceContext = app.extensions[EXTENSION]
    looks: list[int] = []
    progress = context.ledger.progress
    (known,) = progress({pack.owner_id: [pack.id]}).values()

    def counted(asked: dict[str, list[str]]) -> Any:
        looks.append(sum(map(len, asked.values())))
        return progress(asked)

    monkeypatch.setattr(context.progress_watcher, "_read_rows", counted)
    monkeypatch.setattr(context.ledger, "pack", lambda *_: pytest.fail("a whole row was read"))
    followers = [
        context.progress_watcher.follow((pack.owner_id, pack.id), known) for _ in range(16)
    ]
    # Several times as long as looks are apart: nothing is news.
    assert followers[0].wait(known, 5 * LOOK_EVERY_S) == known
    assert len(looks) <= 2
    claim = context.ledger.claim("w/1")
    assert claim is not None
    with ThreadPoolExecutor(16) as pool:
        told = list(pool.map(lambda one: one.wait(known, 60), followers))
    assert {one.state for one in told} == {"making"}
    # Sixteen follow one pack: it is looked at once.
    assert set(looks) == {1}
    for follower in followers:
        follower.leave()


def test_a_pack_that_is_deleted_or_no_longer_theirs_is_told_as_gone(
    app: Flask, pack: PackRow
) -> None:
    context: ServiceContext = app.extensions[EXTENSION]
    with app.test_client().get(f"/v1/packs/{pack.id}/events") as answer:
        parts = answer.iter_encoded()
        read(parts)
        (known,) = context.ledger.progress({pack.owner_id: [pack.id]}).values()
        context.ledger.delete_reference(pack.reference_id, pack.owner_id)
        assert list(parts) == [b"event: gone\ndata: {}\n\n"]
    stranger = context.progress_watcher.follow(("someone", pack.id), known)
    with pytest.raises(NotFound):
        stranger.wait(known, 60)
    stranger.leave()


def test_nobody_takes_all_places() -> None:
    """A hoard of one person's pages leaves streams to others, and polling to itself."""
    limit = stream_limit(2 * MOST_STREAMS_EACH)
    for _ in range(MOST_STREAMS_EACH):
        limit.acquire("hoarder")
    with pytest.raises(Busy) as told:
        limit.acquire("hoarder")
    assert told.value.retry_after_s > 0
    for number in range(MOST_STREAMS_EACH):
        limit.acquire(f"student {number}")
    with pytest.raises(Busy):
        limit.acquire("one more")
    limit.release("hoarder")
    limit.acquire("hoarder")
