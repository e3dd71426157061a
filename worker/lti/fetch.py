"""Requests to learning platforms, at addresses that the operator or a launch gave.

A name is resolved once, each of its addresses is checked, and that address is connected to, so
that no name leads into the network of this machine a moment later. Redirects are not followed,
bytes and time are limited. The operator may name hosts that are private, or without TLS.
"""

from __future__ import annotations

import json
import re
import socket
import ssl
import time
from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any
from urllib.parse import SplitResult, urlsplit

import certifi
import urllib3

from worker.errors import PlatformUnreachable

#: Most bytes of an answer: a page of a course's members is the largest.
MOST_BYTES = 2_000_000
#: Seconds for all of it, and for each wait in it.
TOTAL_S = 10.0
WAIT_S = 5.0
_BLOCK = 65_536
#: Host and port, without a user: names, and addresses in figures (RFC 3986, 3.2.2).
_HOST = re.compile(r"(?:[A-Za-z0-9._-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{1,5})?")
_PORTS = {"https": 443, "http": 80}


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer, whatever its status."""

    status: int
    headers: Mapping[str, str]
    content: bytes

    def json(self) -> Any:
        """The content as JSON, or raise PlatformUnreachable."""
        try:
            return json.loads(self.content)
        except (ValueError, RecursionError) as error:
            raise PlatformUnreachable("The platform's answer is no JSON.") from error


class Fetcher:
    """Sends requests; `private_hosts` may be private addresses, and need no TLS."""

    def __init__(self, private_hosts: tuple[str, ...] = ()) -> None:
        self._private = frozenset(host.lower() for host in private_hosts)

    def check(self, url: str) -> SplitResult:
        """The parts of an address that may be asked.

        Raises:
            PlatformUnreachable: It is not https, or no plain address of a host.
        """
        try:
            parts = urlsplit(url)
            port_is_fine = parts.port is None or parts.port > 0
        except ValueError as error:
            raise PlatformUnreachable("The platform's address cannot be read.") from error
        host = (parts.hostname or "").lower()
        schemes = {"https", "http"} if host in self._private else {"https"}
        plain = url.isascii() and url.isprintable() and " " not in url
        plain = plain and _HOST.fullmatch(parts.netloc) is not None
        if parts.scheme not in schemes or not (host and port_is_fine and plain):
            message = (
                "An address of a platform must be https://… (RICALCO_LTI_PRIVATE_HOSTS names hosts "
                "that need not)."
            )
            raise PlatformUnreachable(message)
        return parts

    def send(
        self,
        method: str,
        url: str,
        *,
        headers: Mapping[str, str] | None = None,
        body: bytes | None = None,
    ) -> Reply:
        """Send a request and read the answer.

        Raises:
            PlatformUnreachable: The address may not be asked, nobody answers in time, or the
                answer is a redirect or too long.
        """
        parts = self.check(url)
        host, ends = (parts.hostname or "").lower(), time.monotonic() + TOTAL_S
        port = parts.port or _PORTS[parts.scheme]
        pool = _pool(parts.scheme, self._address(host, port), host, port)
        path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        sent = {"Host": parts.netloc, "Accept-Encoding": "identity", **(headers or {})}
        try:
            answer = pool.urlopen(
                method, path, body=body, headers=sent, redirect=False, retries=False,
                preload_content=False, decode_content=False,
            )  # fmt: skip
            try:
                content = _read(answer, ends)
            finally:
                answer.close()
        except (urllib3.exceptions.HTTPError, OSError) as error:
            raise PlatformUnreachable(f"The platform at {host} does not answer.") from error
        finally:
            pool.close()
        if 300 <= answer.status < 400:  # noqa: PLR2004 -- RFC 9110, 15.4: redirects.
            message = f"The platform at {host} leads elsewhere; that is not followed."
            raise PlatformUnreachable(message)
        return Reply(status=answer.status, headers=answer.headers, content=content)

    def _address(self, host: str, port: int) -> str:
        """The address to connect to.

        Raises:
            PlatformUnreachable: There is none, or one of them is private.
        """
        try:
            found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError) as error:
            raise PlatformUnreachable(f"There is no host {host}.") from error
        addresses = [str(one[4][0]).partition("%")[0] for one in found]
        inside = [one for one in addresses if not _is_public(one)]
        if inside and host not in self._private:
            message = f"{host} is inside this network; RICALCO_LTI_PRIVATE_HOSTS can allow it."
            raise PlatformUnreachable(message)
        return addresses[0]


def _is_public(address: str) -> bool:
    found = ip_address(address)
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_global and not (mapped or found).is_multicast


def _pool(scheme: str, address: str, host: str, port: int) -> urllib3.HTTPConnectionPool:
    timeout = urllib3.Timeout(connect=WAIT_S, read=WAIT_S)
    if scheme == "http":
        return urllib3.HTTPConnectionPool(address, port, timeout=timeout)
    context = ssl.create_default_context()
    context.load_verify_locations(certifi.where())
    return urllib3.HTTPSConnectionPool(
        address, port, timeout=timeout, ssl_context=context,
        server_hostname=host, assert_hostname=host,
    )  # fmt: skip


def _read(answer: urllib3.BaseHTTPResponse, ends: float) -> bytes:
    content = b""
    while block := answer.read1(_BLOCK):
        content += block
        if len(content) > MOST_BYTES or time.monotonic() > ends:
            raise PlatformUnreachable("The platform's answer is too long, or too slow.")
    return content
