"""Free ports on this machine, for servers that tests and benchmark start."""

from __future__ import annotations

import socket


def free_port() -> int:
    """A port that nothing listens on just now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])
