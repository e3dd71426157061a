"""Ids of requests: the trusted proxy's, where well formed, else made; answered and kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask

from service.app import create_app
from service.http.requests.request_id import PEER, note_peer
from service.runtime.context import EXTENSION
from worker.settings import Settings

PROXY = "192.0.2.1"
TRACE = "4bf92f3577b34da6a3ce929d0e0e4736"
#: The example of W3C Trace Context, 3.2.
TRACEPARENT = f"00-{TRACE}-00f067aa0ba902b7-01"
MADE = re.compile(r"[0-9a-f]{16}")


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """Behind a proxy; the tutor is what lets it start there."""
    settings = Settings(data_dir=tmp_path_factory.mktemp("data"))
    first = create_app(settings)
    first.extensions[EXTENSION].ledger.people.add_tutor("Tutor")
    made = create_app(Settings(data_dir=settings.data_dir, trusted_proxy=PROXY))
    yield made
    for one in (first, made):
        one.extensions[EXTENSION].ledger.close()


def answered(app: Flask, peer: str, **headers: str) -> str:
    """The id in the answer to a request that `peer` sends."""
    environ = {PEER: peer, "REMOTE_ADDR": "198.51.100.7"}
    answer = app.test_client().get("/healthz", headers=headers, environ_overrides=environ)
    return answer.headers["X-Request-Id"]


def test_the_proxys_id_is_taken_and_answered(app: Flask) -> None:
    assert answered(app, PROXY, **{"X-Request-ID": "a1b2-c3d4_e5.f6"}) == "a1b2-c3d4_e5.f6"
    assert answered(app, PROXY, traceparent=TRACEPARENT) == TRACE


@pytest.mark.parametrize("given", ["", "short", "x" * 65, 'quoted"id', "two words", "ünïcödé-id"])
def test_what_is_malformed_is_replaced(app: Flask, given: str) -> None:
    assert MADE.fullmatch(
        answered(app, PROXY, **{"X-Request-ID": given.encode().decode("latin-1")})
    )


@pytest.mark.parametrize(
    "given",
    [
        f"ff-{TRACE}-00f067aa0ba902b7-01",
        f"00-{'0' * 32}-00f067aa0ba902b7-01",
        f"00-{TRACE.upper()}-00f067aa0ba902b7-01",
    ],
)
def test_a_malformed_trace_is_replaced(app: Flask, given: str) -> None:
    assert MADE.fullmatch(answered(app, PROXY, traceparent=given))


def test_nobody_else_gives_ids(app: Flask) -> None:
    sent = {"X-Request-ID": "a1b2c3d4e5f6", "traceparent": TRACEPARENT}
    assert MADE.fullmatch(answered(app, "198.51.100.7", **sent))


def test_who_connected_is_noted_before_a_proxys_headers_are_read() -> None:
    seen: dict[str, Any] = {}

    def application(environ: dict[str, Any], _: Any) -> list[bytes]:
        environ["REMOTE_ADDR"] = "198.51.100.7"
        seen.update(environ)
        return []

    note_peer(application)({"REMOTE_ADDR": PROXY}, None)
    assert (seen[PEER], seen["REMOTE_ADDR"]) == (PROXY, "198.51.100.7")
