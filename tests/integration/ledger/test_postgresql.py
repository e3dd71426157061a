"""What PostgreSQL alone has: a server that may be away, and transactions left open on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import psycopg
import pytest

from worker.errors import LedgerUnavailable
from worker.ledger import Ledger


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
