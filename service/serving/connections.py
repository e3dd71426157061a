"""Connections: how many there may be, and which are closed when there are too many.

waitress accepts a hundred connections and closes one after a minute without a byte. So a
hundred idle or very slow ones would shut out everybody else. Here a connection must make
progress: headers arrive within a time, bodies and responses keep a least pace (`channels`).
And no new connection is refused: where there are too many, in all or from one place, the one
idle for longest is closed, then the slowest, so that somebody who opens many closes their own.
A connection whose request is being processed is never closed. `dispatcher` decides which
request runs next; health checks have threads of their own.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any

from waitress import wasyncore
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from service.serving.channels import LOOK_EVERY_S, Channel, Stage

#: Seconds that an idle connection is kept, and that while more than half are in use.
IDLE_S, IDLE_CROWDED_S = 60.0, 5.0
#: Seconds that a new connection has to send a request before it counts as idle.
NEW_S = 2.0
#: The most in all, where the system has enough file handles.
MOST_CONNECTIONS = 1000
#: The most from one place: thirty students behind one address have six connections each.
MOST_AT_ONE_PLACE = 250
#: The most threads that may wait for clients to read responses too long to be buffered.
MOST_WAITING_THREADS = 20
#: Seconds that such a response may take at any pace.
WAITING_S = 10.0
#: Health checks, which are answered under any load, and their threads.
RESERVED = frozenset({"/healthz", "/readyz"})
RESERVED_THREADS = 2
#: New connections accepted in one round of the loop, since each round polls all sockets.
_AT_ONCE = 64
#: File handles for other things than connections: the ledger, files, the log.
_OTHER_HANDLES = 200
#: Without poll, as on Windows, select takes at most 512 handles.
_MOST_WITHOUT_HANDLES = 400


class Server(TcpWSGIServer):  # type: ignore[misc]  # waitress has no types.
    """waitress's server, which checks its connections between two rounds of its loop.

    No connection is in use there, so any may be closed.

    Attributes:
        most: The most connections.
        each_round: Called between two rounds, at least once a second.
    """

    channel_class = Channel
    most = MOST_CONNECTIONS

    def __init__(self, *arguments: Any, **options: Any) -> None:
        self.each_round: Callable[[], None] = lambda: None
        self._has_new = False
        self._look_at_s = 0.0
        self._reserve = ThreadedTaskDispatcher()
        self._reserve.set_thread_count(RESERVED_THREADS)
        super().__init__(*arguments, **options)

    def run(self) -> None:
        """Serve until the server is closed."""
        while self._map:
            self.each_round()
            self.look(time.monotonic())
            wasyncore.loop(
                timeout=self.adj.asyncore_loop_timeout,
                map=self._map,
                use_poll=self.adj.asyncore_use_poll,
                count=1,
            )
        self._reserve.shutdown()

    def maintenance(self, now: float) -> None:
        """Do nothing: the base closes idle connections only, and not one that reads nothing."""

    def add_task(self, task: Channel) -> None:
        """Queue a request: a health check for its own threads, others for the dispatcher."""
        path = getattr(task.requests[0], "path", None)
        (self._reserve if path in RESERVED else self.task_dispatcher).add_task(task)

    def handle_accept(self) -> None:
        """Accept new connections."""
        for _ in range(_AT_ONCE):
            before = len(self.active_channels)
            super().handle_accept()
            if len(self.active_channels) == before:
                return
            self._has_new = True

    def look(self, now: float) -> None:
        """Close the connections that must be closed now."""
        if self._has_new:
            self._has_new = False
            self._make_room(now)
        if now >= self._look_at_s:
            self._look_at_s = now + LOOK_EVERY_S
            self._close_slow_and_idle(now)
            self._free_threads()
            self.task_dispatcher.free_long()

    def _close_slow_and_idle(self, now: float) -> None:
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
        """Close the slowest where too many threads wait for clients to read."""
        waiting = [one for one in self.active_channels.values() if one.thread_waits]
        slow = sorted((one for one in waiting if one.lasted_s > WAITING_S), key=_pace)
        _close(slow, len(waiting) - MOST_WAITING_THREADS)

    def _make_room(self, now: float) -> None:
        """Close connections where there are too many, in all or from one place."""
        places = Counter(one.place for one in self.active_channels.values())
        for place, count in places.items():
            if place is not None and count > MOST_AT_ONE_PLACE:
                theirs = [one for one in self.active_channels.values() if one.place == place]
                _close(_closing_order(theirs, now), count - MOST_AT_ONE_PLACE)
        over = len(self.active_channels) - self.most
        if over > 0:
            ranked = _closing_order(self.active_channels.values(), now)
            # First those of the place with the most connections, else in the order of rank.
            _close(sorted(ranked, key=lambda one: -places[one.place]), over)


def _pace(one: Channel) -> float:
    return one.pace


def _closing_order(channels: Iterable[Channel], now: float) -> list[Channel]:
    """The connections that may be closed, in the order in which to close them.

    First idle ones, the longest first; then slow ones, the slowest first; last new ones.
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


def make_room_for_handles() -> int:
    """Raise the limit of file handles; returns how many connections are possible then.

    Each may need two: its socket, and a file with a body or a response.
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
