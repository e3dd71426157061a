"""Who may ask: on one machine, only its own user.

A loopback service without keys is open to every web page that the user's browser shows:
by DNS rebinding (a foreign name that resolves to 127.0.0.1) and by plain cross-site
requests. So the Host must be one of our own names, and a request that a browser says
comes from another origin is refused (Fetch Metadata; RFC 6454 for Origin). On any other
address strangers could ask, and without tutors there is no telling them apart: the
service does not start there.
"""

from __future__ import annotations

import ipaddress
from urllib.parse import urlsplit

from flask import Flask, request

from service.errors import HostRefused, OriginRefused
from worker.errors import SettingInvalid
from worker.settings import Settings

OWN_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
_FOREIGN_SITES = frozenset({"cross-site", "same-site"})


def require_loopback(settings: Settings) -> None:
    """Refuse to serve strangers.

    Raises:
        SettingInvalid: `RICALCO_HOST` is not a loopback address.
    """
    if not is_loopback(settings.host):
        detail = (
            f"RICALCO_HOST is {settings.host}, which other machines can reach, and this "
            "service knows no tutors who could be told from strangers. "
            "Set RICALCO_HOST=127.0.0.1."
        )
        raise SettingInvalid(detail, field="RICALCO_HOST")


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches `host`."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def host_name(host: str) -> str | None:
    """The name in a Host header or an origin's authority, without its port.

    None when it is none: browsers send nothing else, so nothing else is guessed at.
    """
    try:
        parts = urlsplit(f"//{host}")
        port_is_fine = parts.port is None or parts.port > 0
    except ValueError:
        return None
    odd = parts.username is not None or parts.path or parts.query or parts.fragment
    return parts.hostname if port_is_fine and not odd else None


def guard(app: Flask, settings: Settings) -> None:
    """Look at Host and origin before anything else of a request."""
    told = (settings.host, *settings.allowed_hosts)
    names = OWN_NAMES | {name.lower().strip("[]") for name in told}

    @app.before_request
    def look() -> None:
        if host_name(request.headers.get("Host", "")) not in names:
            raise HostRefused("This service answers to its own names only, such as localhost.")
        _check_origin()


def _check_origin() -> None:
    """Refuse what a browser says another site sent.

    Raises:
        OriginRefused: The request came from elsewhere.
    """
    origin = request.headers.get("Origin")
    if request.headers.get("Sec-Fetch-Site") in _FOREIGN_SITES:
        raise OriginRefused("Pages of other sites may not use this service.")
    if origin is None or (origin == "null" and request.method in SAFE_METHODS):
        return
    if not same_origin(origin, request.headers.get("Host", "")):
        raise OriginRefused("Pages of other origins may not use this service.")


def same_origin(origin: str, host: str) -> bool:
    """Whether `origin` is the one whose pages this Host serves.

    The scheme is not compared beyond being HTTP: behind a proxy that ends TLS the service
    does not know it.
    """
    scheme, _, authority = origin.partition("://")
    if scheme not in {"http", "https"}:
        return False
    return authority.lower().removesuffix(_port(scheme)) == host.lower().removesuffix(_port(scheme))


def _port(scheme: str) -> str:
    return ":443" if scheme == "https" else ":80"
