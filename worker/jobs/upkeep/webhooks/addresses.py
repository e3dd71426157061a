"""Which URLs a webhook may have; where a name leads is checked when something is sent."""

from __future__ import annotations

from collections.abc import Sequence
from ipaddress import ip_address
from urllib.parse import SplitResult, urlsplit

from worker.outgoing.addresses import PORTS, allowed

MOST_LETTERS = 2000


def fault_of(url: str, networks: Sequence[str]) -> str | None:
    """What is wrong with the URL of a webhook, as a sentence; None: nothing.

    A host's name is not resolved here: what counts is its address when something is sent.
    """
    parts = _split(url)
    if parts is None:
        return "Write an address like https://course.example/hooks, of ASCII letters alone."
    if parts.scheme not in PORTS or (parts.scheme == "http" and not networks):
        return "The address must begin with https://."
    if parts.username is not None or parts.password is not None or "#" in url:
        return "The address must have no user, no password and no fragment in it."
    host = (parts.hostname or "").rstrip(".")
    if _in_figures(host) and not allowed(host, networks):
        return "Webhooks do not go to this network: take an address that the internet reaches."
    return None


def _split(url: str) -> SplitResult | None:
    """The parts of a URL that can be sent as it is; None where it cannot."""
    plain = url.isascii() and url.isprintable() and " " not in url and "\\" not in url
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        return None
    usable = plain and bool(parts.hostname) and port != 0 and len(url) <= MOST_LETTERS
    return parts if usable else None


def _in_figures(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return False
    return True
