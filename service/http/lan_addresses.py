"""Where others in the room find this service.

On a laptop the tutor's own browser asks `127.0.0.1`, which on a student's phone is the
phone; what is shown to a class must name the address that the studio's network knows.
"""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import quote

from service.http.host_guard import is_loopback
from worker.store.ledger import shown_code

#: For documentation only (RFC 5737): nothing is sent there, the system is only asked which
#: of its addresses it would send from.
_ELSEWHERE = ("192.0.2.1", 9)


def lan_address() -> str | None:
    """This machine's address on the network it is in; None where it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(_ELSEWHERE)
            found = str(asked.getsockname()[0])
        except OSError:
            return None
    return None if ipaddress.ip_address(found).is_loopback else found


def base_url(scheme: str, host: str, listens_on: str, port: int) -> str:
    """The address to show to a class.

    Args:
        scheme: Of the request that asks.
        host: Its Host header.
        listens_on: The setting `RICALCO_HOST`.
        port: The setting `RICALCO_PORT`.
    """
    name = host.rpartition(":")[0] if host.rpartition(":")[2].isdigit() else host
    if is_loopback(name) and not is_loopback(listens_on):
        found = lan_address()
        if found is not None:
            return f"http://{found}:{port}"
    return f"{scheme}://{host}"


def join_url(base: str, code: str) -> str:
    """The address that the QR code on the board holds."""
    # What follows # stays in the browser: no proxy and no log on the way sees the code.
    return f"{base}/#join={quote(shown_code(code))}"
