"""One POST to an address that was checked, bounded in time and in what is read of the answer.

Of the answer only its head is read: nothing that a receiver sends can hold up or fill this
process.
"""

from __future__ import annotations

import http.client
import ssl
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from http import HTTPStatus
from urllib.parse import urlsplit

from worker.outgoing.addresses import NameUnknown, Resolver, allowed, resolve
from worker.outgoing.exchange import Bounds, Request, TooLarge, exchange
from worker.store.ledger import Outcome, Result

#: For all of name, connection, request and answer, in s: Standard Webhooks 1.0.0 says 15 to 30.
LIMIT_S = 15.0


class _NotAllowed(Exception):
    """None of a host's addresses may be connected to."""


@dataclass(frozen=True, kw_only=True)
class Poster:
    """Posts to webhooks.

    Attributes:
        networks: Private networks that the operator allows, also without TLS.
        resolver: Names a host's addresses.
        limit_s: For one POST, in s.
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
        plain = urlsplit(url).scheme == "http"

        def usable(addresses: Sequence[str]) -> list[str]:
            found = [one for one in addresses if allowed(one, self.networks, private_only=plain)]
            if not found:
                raise _NotAllowed
            return found

        request = Request(method="POST", url=url, headers=headers, body=body.encode())
        try:
            answer = exchange(request, Bounds(limit_s=self.limit_s), usable, self.resolver)
        except NameUnknown:
            return Result(outcome="name-unknown")
        except _NotAllowed:
            return Result(outcome="address-not-allowed")
        except (OSError, http.client.HTTPException) as error:
            return Result(outcome=_outcome_of(error))
        return Result(
            outcome=_outcome(answer.status),
            status=answer.status,
            retry_after_s=_seconds(answer.headers.get("retry-after")),
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
    if isinstance(error, TooLarge | http.client.LineTooLong):
        return "too-large"
    return "certificate" if isinstance(error, ssl.SSLCertVerificationError) else "unreachable"


def _seconds(written: str | None) -> float:
    """`Retry-After` in seconds; its other form, a date, is taken for none."""
    return float(written) if written and written.isascii() and written.isdigit() else 0.0
