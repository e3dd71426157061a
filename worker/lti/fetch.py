"""Requests to learning platforms, at addresses that the operator or a launch gave.

A name is resolved once, each of its addresses is checked, and one of these is connected to, so
that no name leads into the network of this machine a moment later. Redirects are not followed,
bytes and time are limited. The operator may name hosts that are private, or without TLS.
"""

from __future__ import annotations

import http.client
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any
from urllib.parse import SplitResult, urlsplit

from worker.errors import PlatformUnreachable
from worker.outgoing.addresses import NameUnknown, allowed
from worker.outgoing.exchange import Bounds, Request, TooLarge, exchange

#: Most bytes of an answer: a page of a course's members is the largest.
MOST_BYTES = 2_000_000
#: Seconds for all of it.
TOTAL_S = 10.0
#: Host and port, without a user: names, and addresses in figures (RFC 3986, 3.2.2).
HOST = re.compile(r"(?:[A-Za-z0-9._-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{1,5})?")


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer, whatever its status; names of header fields are in lower case."""

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
        plain = plain and HOST.fullmatch(parts.netloc) is not None
        if parts.scheme not in schemes or not (host and port_is_fine and plain):
            message = (
                "An address of a platform must be https://… (RICALCO_LTI_PRIVATEHOSTS names hosts "
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
        host = (self.check(url).hostname or "").lower()
        request = Request(method=method, url=url, headers=headers or {}, body=body)
        bounds = Bounds(limit_s=TOTAL_S, most_bytes=MOST_BYTES)
        try:
            answer = exchange(request, bounds, partial(self._admit, host))
        except NameUnknown as error:
            raise PlatformUnreachable(f"There is no host {host}.") from error
        except TooLarge as error:
            raise PlatformUnreachable(
                f"The answer of the platform at {host} is too long."
            ) from error
        except (OSError, http.client.HTTPException) as error:
            raise PlatformUnreachable(f"The platform at {host} does not answer.") from error
        if 300 <= answer.status < 400:  # noqa: PLR2004 -- RFC 9110, 15.4: redirects.
            message = f"The platform at {host} leads elsewhere; that is not followed."
            raise PlatformUnreachable(message)
        return Reply(status=answer.status, headers=answer.headers, content=answer.content)

    def _admit(self, host: str, found: Sequence[str]) -> Sequence[str]:
        """The addresses of a host, if they may be connected to.

        Raises:
            PlatformUnreachable: One of them is private.
        """
        if host not in self._private and not all(allowed(one, ()) for one in found):
            message = f"{host} is inside this network; RICALCO_LTI_PRIVATEHOSTS can allow it."
            raise PlatformUnreachable(message)
        return found
