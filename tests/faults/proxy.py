"""A proxy between a program and a server, which cuts, delays, refuses and loses answers."""

from __future__ import annotations

import asyncio
import random
import socket
import struct
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Literal

from tests.waiting import HANG_S

#: What is done with connections: passed on; closed at once; kept without a byte passing; passed
#: on late; answered with an error of HTTP; passed on, but some commits of PostgreSQL lose their
#: answer.
Mode = Literal["open", "cut", "silent", "slow", "http-errors", "lost-commits"]
LATE_S = 0.4
#: How many of the commits lose their answer.
LOST_SHARE = 0.3
_BLOCK = 1 << 16
#: PostgreSQL's simple query of a commit, as psycopg sends it (frontend/backend protocol 3.0).
_COMMIT = b"COMMIT\0"
#: What Amazon's storage answers where it has too much to do.
_SLOW_DOWN = b"<Error><Code>SlowDown</Code><Message>Reduce your rate.</Message></Error>"
_ERROR = (
    b"HTTP/1.1 503 Slow Down\r\nContent-Type: application/xml\r\nConnection: close\r\n"
    b"Content-Length: %d\r\n\r\n%s" % (len(_SLOW_DOWN), _SLOW_DOWN)
)


class Proxy:
    """One port that leads to another; `mode` may change at any time.

    Args:
        target: The server's port on loopback.
        seed: Decides which commits lose their answer.
    """

    def __init__(self, target: int, seed: int) -> None:
        self._target = target
        self._random = random.Random(seed)  # noqa: S311 - which commit is lost is no secret.
        self._mode: Mode = "open"
        self._writers: set[asyncio.StreamWriter] = set()
        self._lost = 0
        self._loop = asyncio.new_event_loop()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._thread = threading.Thread(target=self._run, name="proxy", daemon=True)
        self._thread.start()

    @property
    def lost_commits(self) -> int:
        """How many answers to commits were lost so far."""
        return self._lost

    @contextmanager
    def doing(self, mode: Mode) -> Iterator[None]:
        """Do this meanwhile; connections that were opened in it do not outlive it."""
        self._set(mode)
        try:
            yield
        finally:
            self._set("open")

    def close(self) -> None:
        """End all connections, and listen no more."""
        asyncio.run_coroutine_threadsafe(self._end(), self._loop).result(HANG_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(HANG_S)

    def _set(self, mode: Mode) -> None:
        def change() -> None:
            before, self._mode = self._mode, mode
            if mode == "cut" or before in {"silent", "http-errors"}:
                self._break_off()

        self._loop.call_soon_threadsafe(change)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._server = self._loop.run_until_complete(
            asyncio.start_server(self._serve, sock=self._listener)
        )
        self._loop.run_forever()
        self._loop.close()

    async def _end(self) -> None:
        self._server.close()
        self._break_off()

    def _break_off(self) -> None:
        """End every connection as a machine does that was switched off and on: by a reset."""
        for writer in list(self._writers):
            sock: socket.socket = writer.get_extra_info("socket")
            with suppress(OSError):
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            writer.transport.abort()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        try:
            with suppress(OSError, asyncio.IncompleteReadError):
                await self._join(reader, writer)
        finally:
            self._writers.discard(writer)
            writer.transport.abort()

    async def _join(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._mode == "cut":
            return
        if self._mode == "http-errors":
            await reader.read(_BLOCK)
            writer.write(_ERROR)
            await writer.drain()
            return
        await self._passed()
        answers, server = await asyncio.open_connection("127.0.0.1", self._target)
        link = _Link(reader, writer, answers, server)
        self._writers.add(server)
        ways = [asyncio.ensure_future(way) for way in (self._up(link), self._down(link))]
        try:
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for way in ways:
                way.cancel()
            self._writers.discard(server)
            server.transport.abort()

    async def _up(self, link: _Link) -> None:
        with suppress(OSError):
            while data := await link.questions.read(_BLOCK):
                await self._passed()
                if self._mode == "lost-commits" and _COMMIT in data:
                    link.loses = self._random.random() < LOST_SHARE
                link.server.write(data)
                await link.server.drain()

    async def _down(self, link: _Link) -> None:
        with suppress(OSError):
            while data := await link.answers.read(_BLOCK):
                await self._passed()
                if link.loses:
                    # The server has answered, so the commit is done; nobody hears of it.
                    self._lost += 1
                    return
                link.client.write(data)
                await link.client.drain()

    async def _passed(self) -> None:
        """Wait as long as bytes may not pass."""
        if self._mode == "slow":
            await asyncio.sleep(LATE_S)
        while self._mode == "silent":  # noqa: ASYNC110 - another thread changes it.
            await asyncio.sleep(0.02)


@dataclass
class _Link:
    """One client's connection through the proxy; `loses`: the next answer goes nowhere."""

    questions: asyncio.StreamReader
    client: asyncio.StreamWriter
    answers: asyncio.StreamReader
    server: asyncio.StreamWriter
    loses: bool = False
