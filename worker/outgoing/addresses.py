"""To which network addresses requests go: to none that the outside could not reach itself.

Whoever may name a URL could otherwise have this machine ask inside its own network. A name
is resolved once; what is checked is what is connected to, so a name that is changed in between
(DNS rebinding) changes nothing. The kinds of networks are those of the IANA registries of
special-purpose addresses, as Python's `ipaddress` has them.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Sequence
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address, ip_network
from queue import Empty, SimpleQueue
from threading import Thread
from urllib.parse import urlsplit

Address = IPv4Address | IPv6Address
#: Names a host's addresses, in figures, in the order in which they are to be tried.
Resolver = Callable[[str, int], Sequence[str]]
#: Of each scheme that is spoken.
PORTS = {"https": 443, "http": 80}
#: Networks that are refused besides those that Python does not take for global: IPv6 addresses
#: that stand for IPv4 ones or for tunnels (mapped and compatible, RFC 4291; 6to4, RFC 3056; local
#: NAT64, RFC 8215), protocol assignments (Teredo among them), and what the registries got after
#: Python's lists were made.
_REFUSED = tuple(
    ip_network(one)
    for one in (
        *("::ffff:0:0/96", "::/96", "2002::/16", "64:ff9b:1::/48"),
        *("192.0.0.0/24", "192.88.99.0/24", "2001::/23", "3fff::/20", "5f00::/16"),
    )
)
#: The well-known prefix of NAT64 (RFC 6052): its last 32 bits are the IPv4 address.
_NAT64 = IPv6Network("64:ff9b::/96")


class NameUnknown(Exception):
    """The name system does not know a host."""


def resolve(host: str, port: int) -> list[str]:
    """Ask the system's resolver.

    Raises:
        NameUnknown: It knows no address.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise NameUnknown(host) from error
    return list(dict.fromkeys(str(one[4][0]) for one in found))


def resolve_within(resolver: Resolver, host: str, port: int, limit_s: float) -> Sequence[str]:
    """Ask a resolver for so many seconds at most.

    The system's cannot be interrupted, so it is asked by a thread of its own, which is left behind
    where it is late; it ends with the resolver's own patience, and holds up no exit.

    Raises:
        NameUnknown: It knows no address.
        TimeoutError: It does not answer in time.
    """
    answers: SimpleQueue[Sequence[str] | Exception] = SimpleQueue()

    def ask() -> None:
        try:
            answers.put(resolver(host, port))
        except Exception as error:  # noqa: BLE001 -- It is raised again below.
            answers.put(error)

    Thread(target=ask, name="resolve", daemon=True).start()
    try:
        found = answers.get(timeout=limit_s)
    except Empty:
        raise TimeoutError from None
    if isinstance(found, Exception):
        raise found
    return found


def allowed(written: str, networks: Sequence[str], *, private_only: bool = False) -> bool:
    """Whether a request may go to an address.

    Args:
        written: The address in figures.
        networks: Those that the operator has allowed besides.
        private_only: Whether it must be in one of these, since there is no TLS.
    """
    try:
        address = ip_address(written.partition("%")[0])
    except ValueError:
        return False
    within = any(address in ip_network(one) for one in networks)
    return within or (not private_only and _is_public(address))


def _is_public(address: Address) -> bool:
    if isinstance(address, IPv6Address):
        if address in _NAT64:
            return _is_public(IPv4Address(int(address) & 0xFFFFFFFF))
        if address.is_site_local:
            return False
    if any(address in one for one in _REFUSED):
        return False
    return address.is_global and not (address.is_multicast or address.is_reserved)


def host_and_port(url: str) -> tuple[str, int]:
    """The host of a checked URL, and its port."""
    parts = urlsplit(url)
    return parts.hostname or "", parts.port or PORTS[parts.scheme]
