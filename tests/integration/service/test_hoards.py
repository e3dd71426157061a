"""Hoards of slow connections hold nobody up: whoever comes is answered as if alone."""

from __future__ import annotations

import socket
import statistics
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests

from tests.hoards import Hoard

SPEC = {"support": {"width_mm": 300, "height_mm": 200}}
HOST = b" HTTP/1.1\r\nHost: localhost\r\n"
SENDERS = (
    b"POST /v1/references" + HOST + b"Content-Length: 5000000\r\n"
    b"Content-Type: multipart/form-data; boundary=x\r\n\r\n--x\r\n",
    b"GET /v1/plans" + HOST + b"X: ",
)
#: How long a person may be made to wait, in s; or some times as long as alone, since this
#: machine may be busy with other things.
PATIENCE_S = 1.0
PATIENCE_TIMES = 20


@pytest.mark.alone
@pytest.mark.slow
@pytest.mark.timeout(300)
def test_a_plan_comes_soon_beside_hoards_of_slow_connections(
    start_service: Callable[..., Any], api_of: Callable[..., Any], photo: bytes
) -> None:
    service = start_service()
    api = api_of(service)

    def plan(reference_id: str) -> float:
        began = time.monotonic()
        body = {"reference_id": reference_id, "spec": SPEC}
        answer = requests.post(f"{service.url}/v1/plans", json=body, timeout=60)
        assert answer.status_code == 200, answer.text
        assert requests.get(f"{service.url}/healthz", timeout=60).status_code == 200
        return time.monotonic() - began

    reference_id = api.upload(photo).json()["id"]
    # Its file is larger than what the system holds back of an answer.
    spec = {"support": {"width_mm": 3000, "height_mm": 2000}}
    asked = api.ask(reference_id, spec=spec).json()
    pack = api.ended(asked["links"]["self"], within_s=120)
    with Hoard(service.url) as hoard:
        alone = [plan(reference_id) for _ in range(10)]
        for sent in SENDERS:
            hoard.open(sent, 150)
        hoard.open(b"GET " + pack["files"]["pack"].encode() + HOST + b"\r\n", 300)
        hoard.open(b"GET " + pack["links"]["events"].encode() + HOST + b"\r\n", 50)
        hoard.open(b"", 100)
        beside = [plan(reference_id) for _ in range(30)]
    most = max(PATIENCE_S, PATIENCE_TIMES * statistics.median(alone))
    assert statistics.median(beside) < most, (alone, beside)
    # What was begun for them while they came holds nobody up for longer than it takes.
    assert max(beside[10:]) < 2 * most, (alone, beside)


def test_a_hoard_of_streams_takes_some_places_and_no_more(
    start_service: Callable[..., Any], api_of: Callable[..., Any], photo: bytes
) -> None:
    # With a broker and no worker a pack waits for ever, and so do those who follow it.
    service = start_service(BROKER_URL="redis://127.0.0.1:1/0")
    api = api_of(service)
    asked = api.ask(api.upload(photo).json()["id"]).json()

    def follow() -> requests.Response:
        return requests.get(service.url + asked["links"]["events"], stream=True, timeout=60)

    with Hoard(service.url) as hoard:
        hoard.open(b"GET " + asked["links"]["events"].encode() + HOST + b"\r\n", 60)
        until = time.monotonic() + 60
        while (answer := follow()).ok:
            answer.close()
            assert time.monotonic() < until
        assert (answer.status_code, answer.json()["code"]) == (503, "busy")
        assert int(answer.headers["Retry-After"]) > 0
        assert api.get(asked["links"]["self"]).json()["state"] == "queued"


def test_what_comes_too_slowly_is_told_so(api: Any) -> None:
    """Headers have twenty seconds; nothing else is waited for here."""
    parts = urlsplit(api.url)
    with socket.create_connection((parts.hostname, parts.port), timeout=120) as line:
        line.sendall(b"GET /v1/plans HTTP/1.1\r\nHost: localhost\r\nX: ")
        answer = b""
        while block := line.recv(65536):
            answer += block
    assert answer.startswith((b"HTTP/1.0 408 ", b"HTTP/1.1 408 "))
    assert b'"code": "request-timeout"' in answer
