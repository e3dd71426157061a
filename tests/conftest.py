"""What unit and integration tests share: which database the ledger is tried on."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from typing import Any

import pytest

#: OpenBLAS's threads turn in circles while they wait, for longer than small products take, and
#: take the cores from tests that run beside. It reads their number when NumPy is first loaded,
#: which other conftest files do, so nothing here may load it before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def pytest_configure() -> None:
    """Let interrupts come through: whoever starts the tests in the background ignores them.

    What is ignored is ignored by every program that is started from there on, and some tests
    interrupt programs.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let the ledger's tests run on the other database as well."""
    parser.addoption(
        "--ledger",
        choices=("sqlite", "postgresql"),
        default="sqlite",
        help="the database that tests/unit/store/ledger uses; a PostgreSQL server is started",
    )


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Any]:
    """A server for all tests; each takes a database of its own."""
    # Most runs need no server, and have no driver.
    from tests.servers.postgresql import PostgresServer  # noqa: PLC0415

    server = PostgresServer()
    yield server
    server.end()
