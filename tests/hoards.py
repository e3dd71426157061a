"""Many connections that hardly move, as slow or hostile clients have them."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress
from typing import Self
from urllib.parse import urlsplit


class Hoard:
    """Connections that are opened at once; those that send or take do so a byte at a time."""

    def __init__(self, url: str) -> None:
        parts = urlsplit(url)
        self._address = (parts.hostname, parts.port)
        self._lines: list[socket.socket] = []
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._drip, daemon=True)

    def open(self, sent: bytes, count: int) -> None:
        """Connect so many times, and begin each like this."""
        for _ in range(count):
            line = socket.socket()
            self._lines.append(line)
            # The system holds little back for who does not read.
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            line.settimeout(30)
            line.connect(self._address)
            line.sendall(sent)
            line.setblocking(False)  # noqa: FBT003 -- The standard library's.

    def _drip(self) -> None:
        while not self._over.wait(2):
            for line in self._lines:
                # Many have been closed by then, which is as it should be.
                with suppress(OSError):
                    line.recv(1)
                with suppress(OSError):
                    line.send(b"a")

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()
        for line in self._lines:
            line.close()
