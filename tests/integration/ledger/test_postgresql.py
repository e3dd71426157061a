"""What PostgreSQL alone has: a server that may be away, and transactions left open on it."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import psycopg
import pytest

from worker.errors import LedgerUnavailable, OutcomeUnknown
from worker.store.ledger import HeartbeatReply, HeldKey, Ledger, NewPack, ReferenceRow, Replay


@pytest.fixture
def url(postgresql: Any) -> str:
    return str(postgresql.new_database())


@pytest.fixture
def ledger(url: str) -> Iterator[Ledger]:
    opened = Ledger.open(url)
    opened.migrate()
    yield opened
    opened.close()


def test_a_server_that_is_away_is_told_without_its_password(url: str) -> None:
    away = url.replace("ricalco@", "ricalco:hush@").rsplit(":", 1)[0] + ":1/nothing"
    ledger = Ledger.open(away)
    with pytest.raises(LedgerUnavailable) as told:
        ledger.migrate()
    assert "hush" not in str(told.value)
    ledger.close()


def test_nothing_is_left_open_that_would_hold_the_server_up(url: str, ledger: Ledger) -> None:
    """A transaction left open keeps vacuuming from cleaning up (PostgreSQL 15, 25.1.2)."""
    ledger.waiting()
    ledger.data_version()
    plain = url.replace("+psycopg", "")
    with psycopg.connect(plain, autocommit=True) as connection:
        states = connection.execute(
            "SELECT state FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        ).fetchall()
    assert states
    assert {state for (state,) in states} == {"idle"}


@pytest.mark.parametrize("ahead_s", [60, -60])
def test_machines_whose_clocks_differ_steal_no_packs(
    url: str, ledger: Ledger, monkeypatch: pytest.MonkeyPatch, ahead_s: float
) -> None:
    """Neither by sweeping with a clock that is ahead, nor by beating with one that is behind."""
    photo = ledger.add_reference(a_photo())
    ledger.enqueue(NewPack(reference_id=photo.id, spec={}))
    other = Ledger.open(url)
    honest = time.time
    with monkeypatch.context() as patch:
        patch.setattr(time, "time", lambda: honest() + ahead_s)
        claim = other.claim("other/1")
        assert claim is not None
        assert other.heartbeat(claim) is HeartbeatReply.HELD
        assert other.take_turn("sweep", "other", 15)
    assert (ledger.lapsed_leases(), ledger.free_lapsed().requeued) == (frozenset(), ())
    assert not ledger.take_turn("sweep", "me", 15)
    assert ledger.heartbeat(claim) is HeartbeatReply.HELD
    with monkeypatch.context() as patch:
        patch.setattr(time, "time", lambda: honest() + ahead_s)
        assert (other.lapsed_leases(), other.free_lapsed().requeued) == (frozenset(), ())
        begun = ledger.begin("local", "k", "f")
        assert isinstance(begun, HeldKey)
    assert other.retry(claim, "why", pause_s=0)
    assert ledger.claim("me/1") is not None
    other.close()


def a_photo() -> ReferenceRow:
    return ReferenceRow(width_px=4, height_px=3, format="jpeg", sha256="0" * 64)


#: What the server answers a commit with: CommandComplete (PostgreSQL 15, 55.7).
_TAG = b"COMMIT\0"


class Wire:
    """Stands between a client and the server, and is cut as a commit's answer comes back."""

    def __init__(self, port: int) -> None:
        self._server = ("127.0.0.1", port)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self.cut_at_commit = False
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        """Take no more connections."""
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            server = socket.create_connection(self._server)
            for ends in ((client, server), (server, client)):
                threading.Thread(target=self._pass_on, args=ends, daemon=True).start()

    def _pass_on(self, source: socket.socket, target: socket.socket) -> None:
        try:
            while block := source.recv(65536):
                if self.cut_at_commit and source.getpeername() == self._server and _TAG in block:
                    break
                target.sendall(block)
        except OSError:
            pass
        for end in (source, target):
            # Closing alone is not told to a thread that reads from it, nor over the wire.
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()


def test_a_commit_whose_answer_is_lost_on_the_way_may_be_done(url: str, ledger: Ledger) -> None:
    base, _, name = url.rpartition("/")
    host, _, port = base.rpartition(":")
    wire = Wire(int(port))
    far = Ledger.open(f"{host}:{wire.port}/{name}")
    photo = far.add_reference(a_photo())
    begun = far.begin("local", "k", "f")
    assert isinstance(begun, HeldKey)
    wire.cut_at_commit = True
    with pytest.raises(OutcomeUnknown):
        far.complete(begun, 201, photo.id)
    wire.cut_at_commit = False
    assert ledger.begin("local", "k", "f") == Replay(201, photo.id)
    assert far.known_references([photo.id]) == {photo.id}
    far.close()
    wire.close()
