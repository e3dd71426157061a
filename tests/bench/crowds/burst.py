"""A thousand requests in one moment, and a person beside them, each in a process of its own.

A client of a thousand threads is late itself: what it tells of another of its threads is its own
interpreter's queue. So the crowd is sockets in one loop, whose requests were written before, and
the person who waits for plans is a second process, as a person has a machine of their own.
"""

from __future__ import annotations

import http.client
import selectors
import socket
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from urllib.parse import urlsplit

#: After so long without a byte a request counts as lost, in s.
LOST_S = 120.0
#: Neither process has anything of the other's: no interpreter, and no memory.
_APART = get_context("spawn")
_LEFT_OUT = "lost"


@dataclass(frozen=True)
class Asked:
    """One request of the crowd: what is sent, and the address that it comes from."""

    source: str
    sent: bytes


@dataclass
class Answers:
    """How a crowd was answered.

    Attributes:
        statuses: How many had each status; `lost` where no answer came.
        took_s: From the moment of all to the end of each answer, in order.
        without_retry_after: How many were refused without being told when to come again.
    """

    statuses: Counter[str] = field(default_factory=Counter)
    took_s: list[float] = field(default_factory=list)
    without_retry_after: int = 0


@dataclass(frozen=True)
class Person:
    """Who asks for plans, one after the other.

    Attributes:
        address: Of the service.
        source: The person's own.
        key: The person's.
        bodies: What is asked, in turn.
        pause_s: Between two plans.
    """

    address: str
    source: str
    key: str
    bodies: tuple[bytes, ...]
    pause_s: float = 0.0

    def plan_s(self, number: int) -> float:
        """Seconds from asking to the last byte, over a connection of its own."""
        line = http.client.HTTPConnection(
            *_place(self.address), timeout=LOST_S, source_address=(self.source, 0)
        )
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json"}
        body = self.bodies[number % len(self.bodies)]
        began = time.perf_counter()
        try:
            line.request("POST", "/v1/plans", body, headers)
            answer = line.getresponse()
            answer.read()
        finally:
            line.close()
        if answer.status != http.HTTPStatus.OK:
            message = f"A plan was answered {answer.status}."
            raise RuntimeError(message)
        return time.perf_counter() - began


def _place(address: str) -> tuple[str, int]:
    parts = urlsplit(address)
    return parts.hostname or "", parts.port or 80


def beside(person: Person, address: str, crowd: Sequence[Asked]) -> tuple[Answers, list[float]]:
    """Let the crowd ask in one moment; how it was answered, and what the person's plans took.

    Only plans that were asked for while some of the crowd still waited count.
    """
    ours, theirs = _APART.Pipe()
    over = _APART.Event()
    process = _APART.Process(target=_ask_until, args=(person, over, theirs))
    process.start()
    try:
        # It is under way, with everything loaded.
        ours.recv()
        answers = _send(address, crowd)
        over.set()
        took = ours.recv()
    finally:
        over.set()
        process.join()
    return answers, took


def _ask_until(person: Person, over: Event, line: Connection) -> None:
    took, number = [], 0
    person.plan_s(0)
    line.send(None)
    while not over.is_set():
        number += 1
        took.append(person.plan_s(number))
        over.wait(person.pause_s)
    line.send(took)


def _send(address: str, crowd: Sequence[Asked]) -> Answers:
    """Connect, write, and read to the end of each, all at once."""
    found, began = Answers(), time.perf_counter()
    with selectors.DefaultSelector() as waiting:
        for one in crowd:
            line = socket.socket()
            line.setblocking(False)  # noqa: FBT003 -- The standard library's.
            line.bind((one.source, 0))
            line.connect_ex(_place(address))
            waiting.register(line, selectors.EVENT_WRITE, (one, bytearray()))
        while waiting.get_map():
            events = waiting.select(LOST_S)
            if not events:
                found.statuses[_LEFT_OUT] += len(waiting.get_map())
                break
            for key, mask in events:
                _move(waiting, key, mask, found, began)
    return found


def _move(
    waiting: selectors.BaseSelector,
    key: selectors.SelectorKey,
    mask: int,
    found: Answers,
    began: float,
) -> None:
    line, (asked, answer) = key.fileobj, key.data
    assert isinstance(line, socket.socket)
    try:
        if mask & selectors.EVENT_WRITE:
            line.sendall(asked.sent)
            waiting.modify(line, selectors.EVENT_READ, key.data)
            return
        data = line.recv(1 << 16)
    except OSError:
        data = b""
    answer += data
    if data:
        return
    waiting.unregister(line)
    line.close()
    head = bytes(answer).partition(b"\r\n\r\n")[0].lower()
    status = head[9:12].decode() or _LEFT_OUT
    found.statuses[status] += 1
    found.took_s.append(time.perf_counter() - began)
    if status in {"429", "503"} and b"\r\nretry-after:" not in head:
        found.without_retry_after += 1
