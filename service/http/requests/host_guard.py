"""Checks of Host and Origin: only the service's own pages, under its own names, may use it.

A loopback service without keys is open to every web page in the user's browser: by DNS
rebinding (a foreign name that resolves to 127.0.0.1) and by cross-site requests. So the Host
must be one of the service's own names, and a request that a browser marks as from another
origin is refused (Fetch Metadata; RFC 6454 for Origin). On another address, behind a proxy,
or under a public name, strangers can reach the service: without a tutor it does not start
there; with one, `service.access.rules` asks everybody for a key.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from contextlib import closing
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from flask import Flask, request

from service.http.cors import admit_course_page
from service.http.errors import HostRefused, OriginRefused
from worker.errors import SettingInvalid
from worker.settings import Settings

if TYPE_CHECKING:
    from worker.store.ledger import Ledger

OWN_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
#: See `service.embed`.
_FOR_COURSE_PAGES = frozenset({"page_embed", "page_embed_script"})
#: A platform sends browsers there by a form of its own page: see `service.lti.launch`.
FROM_PLATFORMS = frozenset({"lti_login", "lti_launch"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
#: Views that open to whoever has a secret which is in the address, whatever page they are on.
_OPEN_TO_OTHER_SITES = frozenset({"links.open_link"}) | FROM_PLATFORMS
_FOREIGN_SITES = frozenset({"cross-site", "same-site"})
#: Headers that proxies add (RFC 7239; RFC 9110, 7.6.3; the others are common practice): a
#: request with one comes from elsewhere, whatever address the service listens on.
_FORWARDED = ("Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP")


def require_tutor(settings: Settings, ledger: Ledger | None = None) -> None:
    """Refuse to serve strangers: beyond this machine only where there is a tutor.

    Args:
        settings: Host, proxy and allowed hosts decide whether strangers can reach the service.
        ledger: The ledger, if it is open already; else it is opened for this check.

    Raises:
        SettingInvalid: Others than this machine's user can ask, and there is no tutor; `field`
            is the setting that lets them.
        LedgerUnavailable: The ledger cannot say whether there is a tutor.
    """
    opened = _opening_setting(settings)
    if opened is None or _has_tutor(settings, ledger):
        return
    field, sentence, mend = opened
    detail = (
        f"{sentence}, and this service knows no tutor who could be told from strangers. Make "
        f"one with ricalco tutor NAME, or {mend}."
    )
    raise SettingInvalid(detail, field=field)


def is_own_machine(settings: Settings) -> bool:
    """Whether only the user of this machine can reach the service: see `service.access.rules`."""
    return _opening_setting(settings) is None


def came_through_a_proxy() -> bool:
    """Whether a proxy passed this request on, configured or not, as its headers say."""
    return any(name in request.headers for name in _FORWARDED)


def _opening_setting(settings: Settings) -> tuple[str, str, str] | None:
    """The setting that lets others reach the service, what it does, and how to undo it.

    A proxy sends anybody's requests from a loopback address, and a public host name is there
    for others to use.
    """
    if not is_loopback(settings.host):
        sentence = f"RICALCO_HOST is {settings.host}, which other machines can reach"
        return "RICALCO_HOST", sentence, "set RICALCO_HOST=127.0.0.1"
    if settings.trusted_proxy:
        sentence = f"RICALCO_TRUSTED_PROXY is {settings.trusted_proxy}, which asks for others"
        return "RICALCO_TRUSTED_PROXY", sentence, "leave RICALCO_TRUSTED_PROXY empty"
    foreign = [name for name in settings.allowed_hosts if not is_loopback(name)]
    if foreign:
        sentence = f"RICALCO_ALLOWED_HOSTS names {foreign[0]}, under which others can come"
        return "RICALCO_ALLOWED_HOSTS", sentence, f"take {foreign[0]} out of it"
    return None


def _has_tutor(settings: Settings, ledger: Ledger | None) -> bool:
    if ledger is not None:
        return ledger.people.tutor_exists()
    if not settings.database_url and not (settings.data_dir / "ledger.db").exists():
        return False
    # The supervisor, which seldom comes here, does not wait for a database's modules.
    from worker.store.ledger import open_ledger  # noqa: PLC0415

    with closing(open_ledger(settings)) as opened:
        opened.migrate()
        return opened.people.tutor_exists()


def own_names(settings: Settings) -> frozenset[str]:
    """The host names that are accepted; on a public address also this machine's name."""
    names = [settings.host, *settings.allowed_hosts]
    if not is_loopback(settings.host):
        machine = socket.gethostname()
        names += [machine, f"{machine.partition('.')[0]}.local"]
    return OWN_NAMES | {name.lower().strip("[]") for name in names}


def is_address(host: str) -> bool:
    """Whether this is an IP address: DNS rebinding needs a name, so addresses are safe."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches `host`: an address of RFC 1122, 3.2.1.3 or RFC 4291, 2.5.3.

    A name that a hosts file or a resolver maps to this machine does not count: others may use
    it too. `localhost` is reserved for this machine by RFC 6761, 6.3.
    """
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def host_name(host: str) -> str | None:
    """The name in a Host header or an origin's authority, without its port.

    None where it is malformed: browsers send nothing else, so no other form is read.
    """
    try:
        parts = urlsplit(f"//{host}")
        port_is_fine = parts.port is None or parts.port > 0
    except ValueError:
        return None
    odd = parts.username is not None or parts.path or parts.query or parts.fragment
    return parts.hostname if port_is_fine and not odd else None


def guard(
    app: Flask, settings: Settings, names_origin: Callable[[str], bool] = lambda _: False
) -> None:
    """Check Host and Origin before anything else of a request.

    Args:
        app: The application.
        settings: They say which host names are the service's own.
        names_origin: Whether a course site has pages at an origin: see `service.http.cors`.
    """
    names = own_names(settings)
    allow_addresses = not is_loopback(settings.host)

    @app.before_request
    def check() -> None:
        name = host_name(request.headers.get("Host", ""))
        if name not in names and not (allow_addresses and is_address(name or "")):
            raise HostRefused("This service answers to its own names only, such as localhost.")
        if request.endpoint in _OPEN_TO_OTHER_SITES:
            return
        if not (_is_for_course_pages() or _comes_from_course_page(names_origin)):
            _check_origin()


def _is_for_course_pages() -> bool:
    """Whether a course page shows this in a frame, or loads its script: they hold nothing."""
    return request.endpoint in _FOR_COURSE_PAGES and request.method in SAFE_METHODS


def _comes_from_course_page(names_origin: Callable[[str], bool]) -> bool:
    origin, host = request.headers.get("Origin", ""), request.headers.get("Host", "")
    return not same_origin(origin, host) and admit_course_page(names_origin)


def _check_origin() -> None:
    """Refuse a request that a browser marks as sent by another site.

    Raises:
        OriginRefused: Another origin sent it.
    """
    origin = request.headers.get("Origin")
    if request.headers.get("Sec-Fetch-Site") in _FOREIGN_SITES and not _followed_a_link():
        raise OriginRefused("Pages of other sites may not use this service.")
    if origin is None or (origin == "null" and request.method in SAFE_METHODS):
        return
    if not same_origin(origin, request.headers.get("Host", "")):
        raise OriginRefused("Pages of other origins may not use this service.")


def _followed_a_link() -> bool:
    """Whether a person followed a link from another site, which cannot read the response.

    Such a request changes nothing, and it is how a course's page links to this one.
    """
    said = request.headers
    shown = said.get("Sec-Fetch-Mode") == "navigate" and said.get("Sec-Fetch-Dest") == "document"
    return shown and request.method in SAFE_METHODS


def same_origin(origin: str, host: str) -> bool:
    """Whether `origin` has the host and port of this Host header.

    Both schemes of HTTP are accepted: behind a proxy that ends TLS the service does not know
    which the client used.
    """
    scheme, _, authority = origin.partition("://")
    if scheme not in {"http", "https"}:
        return False
    return authority.lower().removesuffix(_port(scheme)) == host.lower().removesuffix(_port(scheme))


def _port(scheme: str) -> str:
    return ":443" if scheme == "https" else ":80"
