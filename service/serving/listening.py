"""The socket that the service listens at, and how a start that fails is told.

The supervisor tries both before it starts anything. It needs no application for that, whose
modules take a second to load.
"""

from __future__ import annotations

import socket
import sys

from worker.errors import PortTaken, SettingInvalid
from worker.settings import Settings

#: Exit code when this machine is not ready.
NOT_READY = 3


def listen(settings: Settings) -> socket.socket:
    """A socket that listens where the settings say.

    Raises:
        PortTaken: Another program does already.
        SettingInvalid: This machine has no such address.
    """
    host, port = settings.host.strip("[]"), settings.port
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except socket.gaierror as error:
        raise SettingInvalid(f"RICALCO_HOST={host} is no address.", field="RICALCO_HOST") from error
    listener = socket.socket(family, kind, proto)
    if sys.platform != "win32":
        # On Windows it would let two programs share the port. Elsewhere a restart need not
        # wait a minute for the port.
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(address)
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise PortTaken(
            f"Port {port} on {host} is not to be had: another program listens there, or it "
            "is kept for the system. Set RICALCO_PORT to another one.",
            field="RICALCO_PORT",
        ) from error
    return listener
