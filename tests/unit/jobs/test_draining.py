"""A worker that is to end finishes its pack or hands it back, and begins no other."""

from __future__ import annotations

import os

import pytest

from tests.unit.jobs.conftest import Time, ask, publish
from worker.errors import Cancelled, PlanNewer
from worker.jobs import draining as module
from worker.jobs.draining import HAND_BACK_S, Draining
from worker.jobs.pack_job import MadePack, PackRequest, PackWorker
from worker.jobs.parent_watch import STOP_WITHIN_S
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import LOCAL_OWNER, Ledger


def make(request: PackRequest) -> MadePack:
    (request.folder / "pack.pdf").write_bytes(b"%PDF")
    return MadePack(number="0000-0000", total=1)


def make_until_stopped(request: PackRequest) -> MadePack:
    """One that never comes to its end, and looks between its pieces whether it must stop."""
    publish(request.storage, f"packs/{request.pack.id}/{request.pack.lease_token}")
    while not request.heartbeat.stopped():
        pass
    raise Cancelled("Stopped.")


def test_nothing_is_to_end_before_it_is_asked_to(clocks: Time) -> None:
    clocks.passes(10 * HAND_BACK_S)
    draining = Draining()
    assert not draining.begun
    assert not draining.over


def test_the_first_request_counts(clocks: Time, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "time", clocks)
    draining = Draining()
    draining.begin()
    clocks.passes(HAND_BACK_S - 1)
    draining.begin()
    assert draining.begun
    assert not draining.over
    clocks.passes(2)
    assert draining.over


def test_a_pool_s_children_see_it() -> None:
    draining = Draining()
    child = os.fork()
    if not child:
        draining.begin()
        os._exit(0)
    os.waitpid(child, 0)
    assert draining.begun


def test_a_pack_is_handed_back_before_the_worker_is_ended() -> None:
    # Between two looks are a piece of the picture and a write to the ledger.
    assert HAND_BACK_S + 10 <= STOP_WITHIN_S


def test_no_pack_is_begun(settings: Settings, ledger: Ledger) -> None:
    (pack_id,) = ask(ledger)
    draining = Draining()
    draining.begin()
    assert not PackWorker(settings, "me", make, draining).make_next()
    row = ledger.pack(pack_id, LOCAL_OWNER)
    assert (row.state, row.attempt) == ("queued", 0)


def test_a_pack_that_is_not_done_in_time_is_handed_back_whole(
    settings: Settings, ledger: Ledger, storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "HAND_BACK_S", 0.0)
    (pack_id,) = ask(ledger)
    draining = Draining()

    def stop_while_making(request: PackRequest) -> MadePack:
        draining.begin()
        return make_until_stopped(request)

    assert PackWorker(settings, "me", stop_while_making, draining).make_next()
    row = ledger.pack(pack_id, LOCAL_OWNER)
    assert (row.state, row.attempt, row.lease_token) == ("queued", 0, None)
    assert list(storage.keys("packs")) == []
    # Another worker takes it at once, and it is the first attempt.
    assert PackWorker(settings, "other", make).make_next()
    row = ledger.pack(pack_id, LOCAL_OWNER)
    assert (row.state, row.attempt) == ("ready", 1)


def test_one_that_is_cancelled_meanwhile_is_not_queued_again(
    settings: Settings, ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "HAND_BACK_S", 0.0)
    (pack_id,) = ask(ledger)
    draining = Draining()

    def cancel_and_stop(request: PackRequest) -> MadePack:
        ledger.cancel_or_delete(pack_id, LOCAL_OWNER)
        draining.begin()
        return make_until_stopped(request)

    assert PackWorker(settings, "me", cancel_and_stop, draining).make_next()
    assert ledger.pack(pack_id, LOCAL_OWNER).state == "cancelled"


def test_what_a_newer_version_planned_is_left_to_that(
    settings: Settings, ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.store.ledger.packs.claims.FOR_NEWER_PAUSE_S", 0.0)
    (pack_id,) = ask(ledger)

    def refuse(_: PackRequest) -> MadePack:
        raise PlanNewer("A newer version planned it.")

    older = PackWorker(settings, "older", refuse)
    # However often an older one comes first.
    for _ in range(2 * settings.attempts):
        assert older.make_next()
        row = ledger.pack(pack_id, LOCAL_OWNER)
        assert (row.state, row.attempt) == ("queued", 0)
    assert PackWorker(settings, "newer", make).make_next()
    assert ledger.pack(pack_id, LOCAL_OWNER).state == "ready"


def test_it_is_not_left_for_ever(
    settings: Settings, ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.store.ledger.packs.claims.LONGEST_FOR_NEWER_S", -1.0)
    (pack_id,) = ask(ledger)

    def refuse(_: PackRequest) -> MadePack:
        raise PlanNewer("A newer version planned it.")

    assert PackWorker(settings, "older", refuse).make_next()
    row = ledger.pack(pack_id, LOCAL_OWNER)
    assert (row.state, row.error_code) == ("failed", "plan-outdated")
