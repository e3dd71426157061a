"""Connections: how long each may take, how many there may be, and who goes when there are more.

waitress holds a hundred connections and gives each a minute without a byte, so a hundred idle
ones, or slow ones that send a byte now and then, shut everybody else out. Here a connection
must get on: headers come within a time, bodies and answers keep up a pace that a poor line
keeps easily and a hoard does not. And nobody who comes is turned away: where there are too
many connections, in all or from one place, the one that has been idle for longest goes, then
whoever is slowest; so a hoard displaces itself. What is being answered is never displaced.

A connection costs no thread while it is sent or taken, only while it is answered. Health
checks have threads of their own.
"""

from __future__ import annotations

import enum
import ipaddress
import time
from collections import Counter
from collections.abc import Iterable
from typing import Any

from waitress import wasyncore
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher
from waitress.utilities import Error

from service.turns import go_on, waiting

#: From the first byte of a request to the end of its headers.
HEADERS_S = 20.0
#: How long a body, or an answer, may rest before it must have made up for it. An answer may
#: rest for longer: the system holds a good deal of it back before a poor line has taken it.
BODY_S, ANSWER_S = 30.0, 60.0
#: The pace of bodies and answers. The poorest line of mobile data that photos are sent over
#: carries 64 kbit/s up (UMTS, 3GPP TS 22.105), which is eight times as much.
PACE_BYTES_S = 1000.0
#: How long a connection is kept on which nothing is asked, and how long while it is crowded.
IDLE_S, IDLE_CROWDED_S = 60.0, 5.0
#: Who has just come has not had the time to ask.
NEW_S = 2.0
#: In all, where the system has file handles for so many.
MOST_CONNECTIONS = 1000
#: From one place: a class of thirty behind one address has six connections each.
MOST_AT_ONE_PLACE = 250
#: Threads that wait for somebody to take an answer that is too long to be held for them.
MOST_WAITING_THREADS = 20
#: How long such an answer goes on at any pace.
WAITING_S = 10.0
#: Answers that must come whatever else is under way, and threads for nothing else.
RESERVED = frozenset({"/healthz", "/readyz"})
RESERVED_THREADS = 2
LOOK_EVERY_S = 1.0
#: New connections are let in by so many at a time, since each round looks at all of them.
_AT_ONCE = 64
#: Handles for all that is not a connection: the ledger, files, the log.
_OTHER_HANDLES = 200
#: Without poll, as on Windows, select takes 512 handles at the most.
_MOST_WITHOUT_HANDLES = 400
#: IPv6 gives each household at least this much of an address (RFC 6177).
_IPV6_PLACE_BITS = 64


class Stage(enum.Enum):
    """What a connection is about."""

    IDLE = "nothing is asked"
    HEADERS = "a request begins to come"
    BODY = "its body comes"
    ANSWERED = "it is being answered, and nothing waits to be taken"
    TAKING = "an answer waits to be taken"


#: How long each stage may rest, in s; the others have other limits or none.
_REST_S = {Stage.HEADERS: HEADERS_S, Stage.BODY: BODY_S, Stage.TAKING: ANSWER_S}


class RequestTimeout(Error):  # type: ignore[misc]  # waitress has no types.
    """The request came too slowly (RFC 9110, 15.5.9)."""

    code = 408
    reason = "Request Timeout"


class Channel(HTTPChannel):  # type: ignore[misc]  # waitress has no types.
    """A connection that knows how well it gets on.

    Attributes:
        place: Whose connections are counted together with it; None: they are not counted.
        rest: What is left of the time that it may rest, as a share of it.
        pace: Bytes a second since its stage began.
    """

    #: The request that is still coming, where one is.
    request: Any

    def __init__(self, server: Server, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002 -- The base names it so.
        self.place = place_of(addr[0], adj.trusted_proxy)
        self._moved = 0
        self._active_s = time.monotonic()
        self._since_s = self._looked_s = self._active_s
        self._began = self._counted = 0
        self._about: tuple[Stage, object] = (Stage.IDLE, None)
        self._rest_s = 0.0
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> bool:
        """Take what came, and note that it did."""
        self._move(len(data))
        return bool(super().received(data))

    def send(self, data: bytes, do_close: bool = True) -> int:  # noqa: FBT001, FBT002 -- The base's.
        """Send what the line takes, and note how much it was."""
        sent = int(super().send(data, do_close))
        self._move(sent)
        return sent

    def write_soon(self, data: Any) -> int:
        """Hand on a part of an answer."""
        go_on()
        return int(super().write_soon(data))

    def handle_expt(self) -> None:
        """Urgent data has no place in HTTP, and would be told of again and again."""
        self.handle_close()

    def handle_close(self) -> None:
        """Close it, and what has come of a body, which may lie in a file."""
        super().handle_close()
        if self.request is not None:
            self.request.close()

    @property
    def stage(self) -> Stage:
        """What it is about now."""
        request = self.request
        if self.total_outbufs_len:
            return Stage.TAKING
        if self.requests:
            return Stage.ANSWERED
        if request is None:
            return Stage.IDLE
        return Stage.BODY if request.headers_finished else Stage.HEADERS

    def look(self, now: float) -> Stage:
        """Reckon how well it has got on since the last look; returns its stage."""
        stage, request = self.stage, self.request
        if (stage, request) != self._about:
            self._about, self._since_s = (stage, request), self._looked_s
            self._began = self._counted
            self._rest_s = _REST_S.get(stage, 0.0)
        moved, self._counted = self._moved - self._counted, self._moved
        self._rest_s -= now - self._looked_s
        if stage is not Stage.HEADERS:
            # Resting is made up for by moving, and cannot be saved up.
            self._rest_s = min(self._rest_s + moved / PACE_BYTES_S, _REST_S.get(stage, 0.0))
        self._looked_s = now
        return stage

    @property
    def rest(self) -> float:
        """As it was at the last look; below 0: it has rested too long."""
        return self._rest_s / _REST_S.get(self._about[0], 1.0)

    @property
    def pace(self) -> float:
        """As it was at the last look."""
        return (self._counted - self._began) / max(self._looked_s - self._since_s, LOOK_EVERY_S)

    @property
    def lasted_s(self) -> float:
        """How long the stage has lasted at the last look."""
        return self._looked_s - self._since_s

    def idle_s(self, now: float) -> float:
        """How long nothing has moved."""
        return now - self._active_s

    @property
    def thread_waits(self) -> bool:
        """Whether a thread waits for the answer to be taken, since no more is held for it."""
        return bool(self.requests) and self.total_outbufs_len > self.adj.outbuf_high_watermark

    def refuse(self) -> None:
        """Answer the request that is still coming: it came too slowly."""
        with self.requests_lock:
            request, self.request = self.request, None
            if request is None or self.requests:
                return
            request.error = RequestTimeout("The request came in too slowly.")
            request.completed = True
            self.requests.append(request)
        self.server.add_task(self)

    def _flush_outbufs_below_high_watermark(self) -> None:
        """Wait until the answer is taken, where it is too long to be held."""
        if self.total_outbufs_len <= self.adj.outbuf_high_watermark:
            return
        with waiting():
            super()._flush_outbufs_below_high_watermark()

    def _move(self, count: int) -> None:
        if count:
            self._moved += count
            self._active_s = time.monotonic()


class Server(TcpWSGIServer):  # type: ignore[misc]  # waitress has no types.
    """waitress, with a look at its connections between any two rounds of its loop.

    Only there nothing is under way with them, so that any may be closed.
    """

    channel_class = Channel
    most = MOST_CONNECTIONS

    def __init__(self, *arguments: Any, **options: Any) -> None:
        self._someone_came = False
        self._look_at_s = 0.0
        self._reserve = ThreadedTaskDispatcher()
        self._reserve.set_thread_count(RESERVED_THREADS)
        super().__init__(*arguments, **options)

    def run(self) -> None:
        """Serve until it is closed."""
        while self._map:
            self.look(time.monotonic())
            wasyncore.loop(
                timeout=self.adj.asyncore_loop_timeout,
                map=self._map,
                use_poll=self.adj.asyncore_use_poll,
                count=1,
            )
        self._reserve.shutdown()

    def maintenance(self, now: float) -> None:
        """The base's only looks at idle connections, and cannot close one that takes nothing."""

    def add_task(self, task: Channel) -> None:
        """Have a request answered."""
        path = getattr(task.requests[0], "path", None)
        (self._reserve if path in RESERVED else self.task_dispatcher).add_task(task)

    def handle_accept(self) -> None:
        """Let in whoever has come."""
        for _ in range(_AT_ONCE):
            before = len(self.active_channels)
            super().handle_accept()
            if len(self.active_channels) == before:
                return
            self._someone_came = True

    def look(self, now: float) -> None:
        """Close what has to be closed."""
        if self._someone_came:
            self._someone_came = False
            self._make_room(now)
        if now >= self._look_at_s:
            self._look_at_s = now + LOOK_EVERY_S
            self._end_what_rests(now)
            self._free_threads()

    def _end_what_rests(self, now: float) -> None:
        crowded = len(self.active_channels) > self.most / 2
        longest_s = IDLE_CROWDED_S if crowded else IDLE_S
        for one in list(self.active_channels.values()):
            stage = one.look(now)
            if stage is Stage.IDLE:
                if one.idle_s(now) > longest_s:
                    one.handle_close()
            elif one.rest < 0 and stage is Stage.TAKING:
                one.handle_close()
            elif one.rest < 0 and stage in {Stage.HEADERS, Stage.BODY}:
                one.refuse()

    def _free_threads(self) -> None:
        """Let go of the slowest where too many threads wait for their answers to be taken."""
        waiting = [one for one in self.active_channels.values() if one.thread_waits]
        slow = sorted((one for one in waiting if one.lasted_s > WAITING_S), key=_pace)
        _close(slow, len(waiting) - MOST_WAITING_THREADS)

    def _make_room(self, now: float) -> None:
        """Close connections where there are too many, in all or from one place."""
        places = Counter(one.place for one in self.active_channels.values())
        for place, count in places.items():
            if place is not None and count > MOST_AT_ONE_PLACE:
                theirs = [one for one in self.active_channels.values() if one.place == place]
                _close(_least_missed(theirs, now), count - MOST_AT_ONE_PLACE)
        over = len(self.active_channels) - self.most
        if over > 0:
            ranked = _least_missed(self.active_channels.values(), now)
            # Whoever has most of them gives way first; the order is kept otherwise.
            _close(sorted(ranked, key=lambda one: -places[one.place]), over)


def _pace(one: Channel) -> float:
    return one.pace


def _least_missed(channels: Iterable[Channel], now: float) -> list[Channel]:
    """Those that may be closed, whoever is missed least first.

    First those that are idle, the longest first; then those that rest, the most first; at
    last those that have just come.
    """

    def rank(one: Channel) -> tuple[int, float]:
        if one.look(now) is not Stage.IDLE:
            return 1, one.rest
        idle_s = one.idle_s(now)
        return (0 if idle_s > NEW_S else 2), -idle_s

    able = [one for one in channels if one.stage is not Stage.ANSWERED]
    return sorted(able, key=rank)


def _close(channels: list[Channel], count: int) -> None:
    for one in channels[: max(count, 0)]:
        one.handle_close()


def place_of(address: str, trusted_proxy: str | None) -> str | None:
    """Where a connection comes from: an address, or the network of an IPv6 address.

    None for the proxy's own: all that it passes on comes from it, and it has limits of its
    own.
    """
    if address == trusted_proxy:
        return None
    bare, _, _ = address.partition("%")
    try:
        found = ipaddress.ip_address(bare)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((found, _IPV6_PLACE_BITS), strict=False))


def make_room_for_handles() -> int:
    """Have the system allow the file handles that are needed; how many connections it allows.

    Each may need two: its own, and one for a body or an answer that waits in a file.
    """
    try:
        import resource  # noqa: PLC0415 -- Windows has none.
    except ImportError:
        return _MOST_WITHOUT_HANDLES
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    needed = 2 * MOST_CONNECTIONS + _OTHER_HANDLES
    endless = resource.RLIM_INFINITY
    if soft != endless and soft < needed:
        allowed = needed if hard == endless else min(needed, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, allowed), hard))
        soft = max(soft, allowed)
    room = MOST_CONNECTIONS if soft == endless else (soft - _OTHER_HANDLES) // 2
    return max(min(room, MOST_CONNECTIONS), _AT_ONCE)
