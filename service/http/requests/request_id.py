"""The id of a request, under which every program that has to do with it writes its lines.

A proxy in front, or what is before that, may have given one already: as `X-Request-ID` (common
practice), or as the trace id of `traceparent` (W3C Trace Context, 3.2). It is taken from the
trusted proxy alone, so that nobody else writes into the log.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterable
from typing import Any, Final

from flask import request

#: Where the server notes who connected, before a proxy's headers say for whom it asks.
PEER: Final = "ricalco.peer"
_WELL_FORMED = re.compile(r"[A-Za-z0-9._-]{8,64}")
#: Version ff is invalid, and so is a trace id of zeros (3.2.2.1 and 3.2.2.3).
_TRACEPARENT = re.compile(r"(?!ff)[0-9a-f]{2}-(?!0{32})([0-9a-f]{32})-[0-9a-f]{16}-[0-9a-f]{2}.*")
_Wsgi = Callable[[dict[str, Any], Any], Iterable[bytes]]


def note_peer(application: _Wsgi) -> _Wsgi:
    """Wrap what reads a proxy's headers, so that who connected is still known after it."""

    def noting(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        environ[PEER] = environ.get("REMOTE_ADDR")
        return application(environ, start_response)

    return noting


def request_id(trusted_proxy: str) -> str:
    """The id that the trusted proxy gave this request, or a new one."""
    peer = request.environ.get(PEER, request.remote_addr)
    if trusted_proxy and peer == trusted_proxy:
        given = request.headers.get("X-Request-ID", "")
        if _WELL_FORMED.fullmatch(given):
            return given
        if trace := _TRACEPARENT.fullmatch(request.headers.get("traceparent", "")):
            return trace[1]
    return secrets.token_hex(8)
