"""Connections: how long each may take, how many there may be, and who goes when there are more.

waitress holds a hundred connections and gives each a minute without a byte, so a hundred idle
ones, or slow ones that send a byte now and then, shut everybody else out. Here a connection
must get on: headers come within a time, bodies and answers keep up a pace that a poor line
keeps easily and a hoard does not. And nobody who comes is turned away: where there are too
many connections, in all or from one place, the one that has been idle for longest goes, then
whoever is slowest; so a hoard displaces itself. What is being answered is never displaced.

How each is looked at stands in `channels`, who is worked for in `turns`. Health
checks have threads of their own.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable
from typing import Any

from waitress import wasyncore
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from service.serving.channels import LOOK_EVERY_S, Channel, Stage

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
#: New connections are let in by so many at a time, since each round looks at all of them.
_AT_ONCE = 64
#: Handles for all that is not a connection: the ledger, files, the log.
_OTHER_HANDLES = 200
#: Without poll, as on Windows, select takes 512 handles at the most.
_MOST_WITHOUT_HANDLES = 400


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
