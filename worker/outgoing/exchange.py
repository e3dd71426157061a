"""One request and its answer, at addresses that were checked, bounded in time and in bytes.

The connection goes to an address in figures; TLS's server name and the Host field are those of
the URL, so that certificates are checked as always. No proxy is used and redirects are not
followed. One deadline holds for all of it, name, connection, handshake, request, head and content:
a limit for each wait would let a host that sends one byte at a time hold a thread for hours.
"""

from __future__ import annotations

import http.client
import io
import socket
import ssl
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any
from urllib.parse import urlsplit

import certifi

from worker.outgoing.addresses import Resolver, host_and_port, resolve, resolve_within

#: Takes all addresses of a host, and returns those that may be connected to; it raises an error
#: of its own where there is none.
Admit = Callable[[Sequence[str]], Sequence[str]]
#: How much of an answer's head is read.
MOST_HEAD_BYTES = 16 * 1024
#: How many of a host's addresses are tried.
MOST_ADDRESSES = 3
#: Bytes that may come for each byte of content: chunks have a head each (RFC 9112, 7.1).
_FRAMING = 2


@dataclass(frozen=True, kw_only=True)
class Request:
    """What is sent; its URL is `http` or `https`, of ASCII letters, without a user."""

    method: str
    url: str
    headers: Mapping[str, str]
    body: bytes | None = None


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """For all of one exchange.

    Attributes:
        limit_s: Seconds, from asking for the host's addresses on.
        most_bytes: Of the answer's content; 0: none of it is read.
    """

    limit_s: float
    most_bytes: int = 0


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer, whatever its status; names of header fields are in lower case."""

    status: int
    headers: Mapping[str, str]
    content: bytes = b""


class TooLarge(OSError):
    """An answer's head is longer than any needs to be, or its content than is read."""


def exchange(
    request: Request, bounds: Bounds, admit: Admit, resolver: Resolver = resolve
) -> Answer:
    """Send a request to the first address of its host that answers, and read the answer.

    The name is resolved once: what is connected to is what was admitted.

    Args:
        request: What is sent.
        bounds: When to give up.
        admit: Checks the host's addresses.
        resolver: Names them.

    Raises:
        NameUnknown: The host has no address.
        TooLarge, TimeoutError: A bound is reached.
        OSError, http.client.HTTPException: There is no connection, or no HTTP in it.
    """
    deadline_s = time.monotonic() + bounds.limit_s
    host, port = host_and_port(request.url)
    addresses = admit(resolve_within(resolver, host, port, bounds.limit_s))
    with (
        _connect(addresses[:MOST_ADDRESSES], port, deadline_s) as plain,
        _secured(plain, request.url, deadline_s) as channel,
    ):
        _send(channel, request, deadline_s)
        return _receive(channel, request.method, deadline_s, bounds.most_bytes)


class _BoundedStream(io.RawIOBase):
    """What comes from a socket, until a deadline and up to a number of bytes."""

    def __init__(self, channel: socket.socket, deadline_s: float) -> None:
        self._channel = channel
        self._deadline_s = deadline_s
        self._left = MOST_HEAD_BYTES

    def allow(self, count: int) -> None:
        """Let so many more bytes be read."""
        self._left += count

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: Any, /) -> int:
        """Read some bytes.

        Raises:
            TooLarge, TimeoutError: A bound is reached.
        """
        if self._left <= 0:
            raise TooLarge
        self._channel.settimeout(_left_s(self._deadline_s))
        count = self._channel.recv_into(buffer, min(len(buffer), self._left))
        self._left -= count
        return count


class _Answering:
    """What `http.client.HTTPResponse` needs of a socket."""

    def __init__(self, stream: _BoundedStream) -> None:
        self._stream = stream

    def makefile(self, *_: object, **__: object) -> io.BufferedReader:
        """The answer as a file."""
        return io.BufferedReader(self._stream, 1024)


def _left_s(deadline_s: float) -> float:
    """Seconds until then, or raise TimeoutError."""
    left_s = deadline_s - time.monotonic()
    if left_s <= 0:
        raise TimeoutError
    return left_s


def _connect(addresses: Sequence[str], port: int, deadline_s: float) -> socket.socket:
    """Connect to the first of these addresses that answers."""
    for number, address in enumerate(addresses, 1):
        share = _left_s(deadline_s) / (len(addresses) - number + 1)
        try:
            return socket.create_connection((address, port), timeout=share)
        except OSError:
            if number == len(addresses):
                raise
    raise TimeoutError


def _secured(plain: socket.socket, url: str, deadline_s: float) -> socket.socket:
    """The connection with TLS, where the URL says so; the certificate must be its host's."""
    parts = urlsplit(url)
    if parts.scheme == "http":
        return plain
    plain.settimeout(_left_s(deadline_s))
    return _tls().wrap_socket(plain, server_hostname=parts.hostname)


@cache
def _tls() -> ssl.SSLContext:
    """The system's authorities, and those of certifi where it has none of its own."""
    context = ssl.create_default_context()
    context.load_verify_locations(certifi.where())
    return context


def _send(channel: socket.socket, request: Request, deadline_s: float) -> None:
    parts = urlsplit(request.url)
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    connection = http.client.HTTPConnection(*host_and_port(request.url))
    connection.sock = channel
    channel.settimeout(_left_s(deadline_s))
    sent = {**request.headers, "Host": parts.netloc, "Connection": "close"}
    connection.request(request.method, target, request.body, sent)


def _receive(channel: socket.socket, method: str, deadline_s: float, most_bytes: int) -> Answer:
    stream = _BoundedStream(channel, deadline_s)
    answer = http.client.HTTPResponse(_Answering(stream), method=method)  # type: ignore[arg-type]
    answer.begin()
    # Fields that come several times are one list (RFC 9110, 5.3).
    headers = {name.lower(): answer.getheader(name) or "" for name in answer.headers}
    stream.allow(_FRAMING * most_bytes)
    content = _content(answer, most_bytes) if most_bytes else b""
    return Answer(status=answer.status, headers=headers, content=content)


def _content(answer: http.client.HTTPResponse, most_bytes: int) -> bytes:
    content = answer.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise TooLarge
    if answer.length:
        # The connection ended before the content did.
        raise http.client.IncompleteRead(content, answer.length)
    return content
