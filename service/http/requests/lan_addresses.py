"""The address at which other devices on the local network reach this service.

On a laptop the tutor's browser uses `127.0.0.1`, which on a student's phone is the phone
itself. An address that is shown to a class must be the laptop's on the studio's network.
"""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import quote

from service.http.requests.host_guard import is_loopback

#: An address reserved for documentation (RFC 5737). Nothing is sent to it; the system only
#: chooses which of its own addresses it would send from.
_ELSEWHERE = ("192.0.2.1", 9)


def lan_address() -> str | None:
    """This machine's address on its network; None where it is on none."""
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
        scheme: The scheme of the request under way.
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
    """The address in the QR code on the board, for a join code as it is shown."""
    # Browsers do not send what follows #: no proxy and no log sees the code.
    return f"{base}/#join={quote(code)}"
