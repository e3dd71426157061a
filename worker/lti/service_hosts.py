"""On which hosts a platform has its services: those that the operator named, and no others.

Columns and lists of members are named by launches. A platform could have us ask any host there,
also one that another platform may have in this network, and be sent its answers as members.
"""

from __future__ import annotations

from worker.lti.fetch import HOST
from worker.outgoing.addresses import host_and_port
from worker.store.ledger import PlatformRow


def is_service_of(platform: PlatformRow, url: str) -> bool:
    """Whether an address that a launch names, and that may be asked, is on a host of the platform.

    These are the hosts, with their ports, of the addresses that the operator gave, and those that
    the operator named besides.
    """
    given = (platform.auth_url, platform.token_url, platform.jwks_url)
    hosts = {_host_of(one) for one in given} | set(map(service_host, platform.service_hosts))
    return _host_of(url) in hosts


def service_host(written: str) -> tuple[str, int]:
    """The host and the port of `host` or `host:port`; without one, that of https.

    Raises:
        ValueError: It is neither.
    """
    if not HOST.fullmatch(written):
        raise ValueError(written)
    return _host_of(f"https://{written}")


def _host_of(url: str) -> tuple[str, int]:
    host, port = host_and_port(url)
    return host.lower(), port
