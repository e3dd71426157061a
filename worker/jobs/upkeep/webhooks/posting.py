"""One POST to an address that was checked, bounded in time and in what is read of the answer.

The connection goes to the address in figures; TLS's server name and the Host field are those of
the URL, so that certificates are checked as always. No proxy is used, redirects are not
followed, and of the answer only its head is read: nothing that a receiver sends can hold up or
fill this process.
"""

from __future__ import annotations

import http.client
import io
import socket
import ssl
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

import certifi

from worker.jobs.upkeep.webhooks.addresses import (
    NameUnknown,
    Resolver,
    allowed,
    host_and_port,
    resolve,
)
from worker.store.ledger import Outcome, Result

#: For all of connection, request and answer, in s: Standard Webhooks 1.0.0 says 15 to 30.
LIMIT_S = 15.0
#: How much of an answer's head is read.
MOST_BYTES = 16 * 1024
#: How many of a host's addresses are tried.
_MOST_ADDRESSES = 3


@dataclass(frozen=True, kw_only=True)
class Poster:
    """Posts to webhooks.

    Attributes:
        networks: Private networks that the operator allows, also without TLS.
        resolver: Names a host's addresses.
        limit_s: For one POST, in s, after the host's name was resolved.
    """

    networks: tuple[str, ...] = ()
    resolver: Resolver = resolve
    limit_s: float = LIMIT_S

    def post(self, url: str, body: str, headers: dict[str, str]) -> Result:
        """Send a body; whatever goes wrong is the result's outcome, and no error."""
        began_s = time.monotonic()
        result = self._post(url, body, headers)
        return replace(result, took_s=round(time.monotonic() - began_s, 3))

    def _post(self, url: str, body: str, headers: dict[str, str]) -> Result:
        host, port = host_and_port(url)
        try:
            usable = self._usable(url, self.resolver(host, port))
        except NameUnknown:
            return Result(outcome="name-unknown")
        if not usable:
            return Result(outcome="address-not-allowed")
        deadline_s = time.monotonic() + self.limit_s
        try:
            with _connect(usable, port, deadline_s) as plain, _secured(plain, url) as channel:
                return _exchange(channel, deadline_s, url, body, headers)
        except (TimeoutError, OSError, http.client.HTTPException) as error:
            return Result(outcome=_outcome_of(error))

    def _usable(self, url: str, addresses: Sequence[str]) -> list[str]:
        """Those of a host's addresses that may be connected to."""
        plain = urlsplit(url).scheme == "http"
        found = [one for one in addresses if allowed(one, self.networks, private_only=plain)]
        return found[:_MOST_ADDRESSES]


class _TooLarge(OSError):
    """The head of an answer is longer than any needs to be."""


class _BoundedStream(io.RawIOBase):
    """What comes from a socket, until a deadline and up to a number of bytes."""

    def __init__(self, channel: socket.socket, deadline_s: float) -> None:
        self._channel = channel
        self._deadline_s = deadline_s
        self._left = MOST_BYTES

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: Any, /) -> int:
        """Read some bytes.

        Raises:
            _TooLarge, TimeoutError: A bound is reached.
        """
        if self._left <= 0:
            raise _TooLarge
        self._channel.settimeout(_left_s(self._deadline_s))
        count = self._channel.recv_into(buffer, min(len(buffer), self._left))
        self._left -= count
        return count


class _Answering:
    """What `http.client.HTTPResponse` needs of a socket."""

    def __init__(self, channel: socket.socket, deadline_s: float) -> None:
        self._stream = _BoundedStream(channel, deadline_s)

    def makefile(self, *_: object, **__: object) -> io.BufferedReader:
        """The answer as a file."""
        return io.BufferedReader(self._stream, 1024)


def _left_s(deadline_s: float) -> float:
    """Seconds until then, or raise TimeoutError."""
    left_s = deadline_s - time.monotonic()
    if left_s <= 0:
        raise TimeoutError
    return left_s


def _connect(addresses: list[str], port: int, deadline_s: float) -> socket.socket:
    """Connect to the first of these addresses that answers."""
    for number, address in enumerate(addresses, 1):
        share = _left_s(deadline_s) / (len(addresses) - number + 1)
        try:
            return socket.create_connection((address, port), timeout=share)
        except OSError:
            if number == len(addresses):
                raise
    raise TimeoutError


def _secured(plain: socket.socket, url: str) -> socket.socket:
    """The connection with TLS, where the URL says so; the certificate must be its host's."""
    parts = urlsplit(url)
    if parts.scheme == "http":
        return plain
    return _tls().wrap_socket(plain, server_hostname=parts.hostname)


@cache
def _tls() -> ssl.SSLContext:
    """The system's authorities, and those of certifi where it has none of its own."""
    context = ssl.create_default_context()
    context.load_verify_locations(certifi.where())
    return context


def _exchange(
    channel: socket.socket, deadline_s: float, url: str, body: str, headers: dict[str, str]
) -> Result:
    parts = urlsplit(url)
    target = parts._replace(scheme="", netloc="", fragment="").geturl() or "/"
    target = target if target.startswith("/") else f"/{target}"
    request = http.client.HTTPConnection(parts.hostname or "")
    request.sock = channel
    channel.settimeout(_left_s(deadline_s))
    sent = {**headers, "Host": parts.netloc, "Connection": "close"}
    request.request("POST", target, body.encode(), sent)
    answer = http.client.HTTPResponse(_Answering(channel, deadline_s), method="POST")  # type: ignore[arg-type]
    answer.begin()
    return Result(
        outcome=_outcome(answer.status),
        status=answer.status,
        retry_after_s=_seconds(answer.getheader("Retry-After")),
    )


def _outcome(status: int) -> Outcome:
    if HTTPStatus.OK <= status < HTTPStatus.MULTIPLE_CHOICES:
        return "delivered"
    if HTTPStatus.MULTIPLE_CHOICES <= status < HTTPStatus.BAD_REQUEST:
        return "redirect"
    return "gone" if status == HTTPStatus.GONE else "refused"


def _outcome_of(error: Exception) -> Outcome:
    if isinstance(error, TimeoutError):
        return "too-slow"
    if isinstance(error, _TooLarge | http.client.LineTooLong):
        return "too-large"
    return "certificate" if isinstance(error, ssl.SSLCertVerificationError) else "unreachable"


def _seconds(written: str | None) -> float:
    """`Retry-After` in seconds; its other form, a date, is taken for none."""
    return float(written) if written and written.isascii() and written.isdigit() else 0.0
