"""A receiver of webhooks on loopback that answers as a test says."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

LOOPBACK = ("127.0.0.0/8",)
#: Nothing here waits longer, in s; what must end sooner is told so by its own limit.
PATIENCE_S = 30.0
OK = b"HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n"
Answer = Callable[[socket.socket], None]


@dataclass
class Request:
    """What a receiver got."""

    line: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Receiver:
    """Answers each connection with the next answer, and the last one again and again."""

    answers: list[bytes | Answer] = field(default_factory=lambda: [OK])
    requests: list[Request] = field(default_factory=list)
    wrap: Callable[[socket.socket], socket.socket] = lambda one: one

    def start(self, port: int = 0) -> Receiver:
        """Listen on loopback."""
        self._server = socket.create_server(("127.0.0.1", port))
        self.port = int(self._server.getsockname()[1])
        self._thread = threading.Thread(target=self._serve, args=(self._server,), daemon=True)
        self._thread.start()
        return self

    def stop(self) -> None:
        """Refuse connections from now on."""
        with socket.create_connection(("127.0.0.1", self.port)):
            self._stopping = True
        self._thread.join(PATIENCE_S)
        self._server.close()

    @property
    def url(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}/hooks?from=ricalco"

    _stopping = False

    def _serve(self, server: socket.socket) -> None:
        while not self._stopping:
            channel, _ = server.accept()
            channel.settimeout(PATIENCE_S)
            try:
                with self.wrap(channel) as answering:
                    self._answer(answering)
            except OSError:
                # The sender has closed its end, as some tests want it to.
                continue

    def _answer(self, channel: socket.socket) -> None:
        file = channel.makefile("rb")
        line = file.readline().decode().strip()
        if not line:
            return
        pairs = iter(lambda: file.readline().decode().strip(), "")
        headers = {name.lower(): value for name, _, value in (one.partition(": ") for one in pairs)}
        body = file.read(int(headers.get("content-length", "0")))
        self.requests.append(Request(line, headers, body))
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if callable(answer):
            answer(channel)
        else:
            channel.sendall(answer)
