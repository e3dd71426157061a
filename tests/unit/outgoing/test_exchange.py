"""One exchange: its content too is bounded, in bytes and by the deadline that holds for all."""

from __future__ import annotations

import http.client
import socket
import time
from collections.abc import Iterator, Sequence
from threading import Event

import pytest

from tests.servers.webhook_receivers import PATIENCE_S, Receiver
from worker.outgoing.exchange import Answer, Bounds, Request, TooLarge, exchange

#: So short that a test is quick, in s; what it bounds would last for much longer.
SHORT_S = 1.0
MOST_BYTES = 1000
HEAD = b"HTTP/1.1 200 OK\r\n"


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    made = Receiver().start()
    yield made
    made.stop()


def ask(receiver: Receiver, limit_s: float = PATIENCE_S, method: str = "GET") -> Answer:
    request = Request(method=method, url=receiver.url, headers={"Accept": "text/plain"})
    return exchange(request, Bounds(limit_s=limit_s, most_bytes=MOST_BYTES), lambda found: found)


def chunked(*chunks: bytes) -> bytes:
    """An answer in chunks (RFC 9112, 7.1)."""
    coded = b"".join(b"%x\r\n%s\r\n" % (len(one), one) for one in chunks)
    return HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + coded + b"0\r\n\r\n"


def with_length(content: bytes, length: int) -> bytes:
    return HEAD + b"Content-Length: %d\r\n\r\n" % length + content


@pytest.mark.parametrize(
    "answer",
    [with_length(b"a" * 1000, 1000), chunked(*[b"a" * 10] * 100), HEAD + b"\r\n" + b"a" * 1000],
    ids=["with its length", "in chunks", "to the end of the connection"],
)
def test_content_is_read_up_to_its_bound(receiver: Receiver, answer: bytes) -> None:
    receiver.answers = [answer]
    assert ask(receiver).content == b"a" * 1000
    (request,) = receiver.requests
    assert request.line.startswith("GET /hooks?from=ricalco ")
    assert request.headers["accept"] == "text/plain"


#: 300 bytes in chunks with extensions (RFC 9112, 7.1.1) that are a hundred times as long.
MOSTLY_FRAMING = chunked().removesuffix(b"0\r\n\r\n") + (b"1;" + b"x" * 100 + b"\r\na\r\n") * 300


@pytest.mark.parametrize(
    "answer",
    [with_length(b"a" * 1001, 1001), chunked(b"a" * 1000, b"a"), MOSTLY_FRAMING],
    ids=["with its length", "in chunks", "framing alone"],
)
def test_longer_content_is_too_large(receiver: Receiver, answer: bytes) -> None:
    receiver.answers = [answer]
    with pytest.raises(TooLarge):
        ask(receiver)


def endless(channel: socket.socket) -> None:
    channel.sendall(HEAD + b"\r\n")
    while True:
        channel.sendall(bytes(65536))


def test_endless_content_is_too_large(receiver: Receiver) -> None:
    receiver.answers = [endless]
    with pytest.raises(TooLarge):
        ask(receiver)


def drip_content(channel: socket.socket) -> None:
    channel.sendall(HEAD + b"\r\n")
    while True:
        channel.sendall(b"a")
        time.sleep(SHORT_S / 10)


def drip_chunk_head(channel: socket.socket) -> None:
    channel.sendall(HEAD + b"Transfer-Encoding: chunked\r\n\r\n1;")
    while True:
        channel.sendall(b"a")
        time.sleep(SHORT_S / 10)


@pytest.mark.parametrize("drip", [drip_content, drip_chunk_head])
def test_content_that_drips_is_too_slow(receiver: Receiver, drip: object) -> None:
    receiver.answers = [drip]  # type: ignore[list-item]
    with pytest.raises(TimeoutError):
        ask(receiver, SHORT_S)


@pytest.mark.parametrize(
    "answer", [with_length(b"a" * 9, 10), chunked(b"a" * 10)[:-9]], ids=["length", "chunks"]
)
def test_content_that_breaks_off_is_no_content(receiver: Receiver, answer: bytes) -> None:
    receiver.answers = [answer]
    with pytest.raises(http.client.IncompleteRead):
        ask(receiver)


def test_fields_that_come_twice_are_one_list(receiver: Receiver) -> None:
    # RFC 9110, 5.3.
    receiver.answers = [HEAD + b"Link: <a>\r\nContent-Length: 0\r\nlink: <b>\r\n\r\n"]
    assert ask(receiver).headers["link"] == "<a>, <b>"


def test_a_name_that_takes_for_ever_is_given_up(receiver: Receiver) -> None:
    """The resolver of the system answers when it will: only the deadline ends the wait for it."""
    released = Event()

    def slow(host: str, port: int) -> list[str]:
        del host, port
        released.wait(PATIENCE_S)
        return ["127.0.0.1"]

    request = Request(method="GET", url=receiver.url, headers={})
    bounds = Bounds(limit_s=SHORT_S / 10, most_bytes=MOST_BYTES)
    with pytest.raises(TimeoutError):
        exchange(request, bounds, lambda found: found, slow)
    released.set()
    assert receiver.requests == []


def test_what_is_not_admitted_is_not_connected_to(receiver: Receiver) -> None:
    def none(found: Sequence[str]) -> Sequence[str]:
        raise PermissionError(*found)

    request = Request(method="GET", url=receiver.url, headers={})
    with pytest.raises(PermissionError, match=r"127\.0\.0\.1"):
        exchange(request, Bounds(limit_s=PATIENCE_S), none)
    assert receiver.requests == []
