"""A line to the service that can be cut in the middle of a photo, as in a lift."""

from __future__ import annotations

import socket
import threading
from contextlib import closing, suppress

_BLOCK = 16_384


class Line:
    """Passes bytes on from a port of its own.

    Attributes:
        cut_after: It breaks off after so many bytes, if set.
        silent: It takes everything and passes nothing on.
        cuts: How often it broke off.
    """

    def __init__(self, port: int) -> None:
        self._service = ("127.0.0.1", port)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        self.cut_after: int | None = None
        self.silent = False
        self.cuts = 0
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        """Take no more calls."""
        self._listener.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                caller, _ = self._listener.accept()
                threading.Thread(target=self._join, args=(caller,), daemon=True).start()

    def _join(self, caller: socket.socket) -> None:
        with closing(caller), suppress(OSError):
            service = socket.create_connection(self._service)
            with closing(service):
                back = threading.Thread(target=self._pass_on, args=(service, caller), daemon=True)
                back.start()
                self._pass_on(caller, service, forth=True)
                back.join(30)

    def _pass_on(
        self, source: socket.socket, target: socket.socket, *, forth: bool = False
    ) -> None:
        passed = 0
        with suppress(OSError):
            while block := source.recv(_BLOCK):
                passed += len(block)
                if self.silent:
                    continue
                if forth and self.cut_after is not None and passed > self.cut_after:
                    self.cuts += 1
                    for end in (source, target):
                        with suppress(OSError):
                            end.shutdown(socket.SHUT_RDWR)
                    return
                target.sendall(block)
            target.shutdown(socket.SHUT_WR)
