"""Connections get on or go, and whoever comes finds room."""

from __future__ import annotations

import resource
import socket
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from waitress.adjustments import Adjustments

from service.serving import connections
from service.serving.channels import Channel, Stage, place_of
from service.serving.connections import (
    IDLE_CROWDED_S,
    IDLE_S,
    MOST_AT_ONE_PLACE,
    RESERVED,
    Server,
    make_room_for_handles,
)
from service.serving.dispatcher import SlotDispatcher
from service.serving.turns import Turn

HEAD = b"POST /v1/references HTTP/1.1\r\nHost: localhost\r\nContent-Length: %d\r\n\r\n"
PHOTO_BYTES = 8_000_000


@pytest.fixture
def server() -> Iterator[Server]:
    """One that listens and answers nothing: no thread of it is at work."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        made = Server(
            lambda *_: [],
            map={},
            _sock=listener,
            dispatcher=SlotDispatcher(0),
            adj=Adjustments(sockets=[listener], asyncore_use_poll=True),
            sockinfo=(listener.family, listener.type, listener.proto, listener.getsockname()),
            bind_socket=False,
        )
        yield made
        for channel in list(made.active_channels.values()):
            channel.handle_close()
            for request in channel.requests:
                request.close()
        made._reserve.shutdown()
        made.close()


Come = Callable[..., Channel]


@pytest.fixture
def come(server: Server) -> Iterator[Come]:
    """Lets somebody come; `peer` of a connection is their end of it."""
    peers: list[socket.socket] = []

    def begin(place: str = "192.0.2.1", sent: bytes = b"") -> Channel:
        ours, theirs = socket.socketpair()
        peers.append(theirs)
        channel = Channel(server, ours, (place, 1), server.adj, map=server._map)
        channel.peer = theirs
        server._has_new = True
        if sent:
            channel.received(sent)
        return channel

    yield begin
    for peer in peers:
        peer.close()


def pass_time(server: Server, seconds: int, each: Callable[[int], Any] = lambda _: None) -> None:
    """Let this many seconds go by, a look at each; nobody waits for it."""
    began = time.monotonic()
    for second in range(1, seconds + 1):
        each(second)
        server._close_slow_and_idle(began + second)


def status(channel: Channel) -> int | None:
    """What the request is refused with; None where it is not."""
    error = channel.requests[0].error if channel.requests else None
    return None if error is None else int(error.code)


def test_a_photo_over_a_poor_line_comes_whole(server: Server, come: Come) -> None:
    """64 kbit/s, the rate of the first mobile data lines (3GPP TS 22.105), with pauses."""
    channel = come(sent=HEAD % PHOTO_BYTES)

    def send(second: int) -> None:
        assert status(channel) is None
        # Underground, now and then, for twenty seconds.
        if second % 100 >= 20 and channel.request is not None:
            channel.received(b"x" * 8000)

    pass_time(server, 1300, send)
    assert channel.requests[0].error is None
    assert channel.requests[0].body_bytes_received == PHOTO_BYTES


@pytest.mark.parametrize("head", [HEAD % PHOTO_BYTES, b"GET /v1/plans HTTP/1.1\r\nX: "])
def test_a_byte_every_five_seconds_is_refused(server: Server, come: Come, head: bytes) -> None:
    channel = come(sent=head)
    pass_time(server, 60, lambda second: second % 5 or channel.received(b"x"))
    assert status(channel) == 408


def test_what_came_fast_may_not_rest_for_ever(server: Server, come: Come) -> None:
    channel = come(sent=HEAD % PHOTO_BYTES + b"x" * (PHOTO_BYTES - 1))
    pass_time(server, 60)
    assert status(channel) == 408


def test_headers_come_within_their_time_at_any_pace(server: Server, come: Come) -> None:
    channel = come(sent=b"GET / HTTP/1.1\r\n")
    pass_time(server, 60, lambda second: channel.received(b"X-%d: %s\r\n" % (second, b"x" * 2000)))
    assert status(channel) == 408


def fill(channel: Channel) -> None:
    """An answer that the other end does not take: the system holds a part of it back."""
    channel.write_soon(b"x" * 4_000_000)
    assert channel.look(time.monotonic()) is Stage.TAKING


def test_who_does_not_take_the_answer_goes(server: Server, come: Come) -> None:
    stuck, slow = come(), come()
    fill(stuck)
    fill(slow)

    def take(_: int) -> None:
        slow.peer.recv(8000)
        slow.handle_write()

    pass_time(server, 70, take)
    assert not stuck.connected
    assert slow.connected


def test_idle_connections_go_sooner_where_it_is_crowded(server: Server, come: Come) -> None:
    channel = come()
    pass_time(server, int(IDLE_S) - 1)
    assert channel.connected
    server.most = 1
    pass_time(server, int(IDLE_CROWDED_S) + 1)
    assert not channel.connected


def test_a_class_behind_one_address_has_room(server: Server, come: Come) -> None:
    channels = [come() for _ in range(30 * 6)]
    server.look(time.monotonic())
    assert all(one.connected for one in channels)


def test_who_comes_displaces_who_idles_then_who_is_slow(server: Server, come: Come) -> None:
    now = time.monotonic()
    asked = come(sent=b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
    slow = [come(sent=HEAD % 9) for _ in range(MOST_AT_ONE_PLACE - 3)]
    idle, elsewhere = come(), come("192.0.2.2")
    idle._active_s -= 10
    first = come()
    server._make_room(now + 1)
    # There is room for all of them: one is from elsewhere.
    assert idle.connected
    second = come()
    server._make_room(now + 1)
    assert not idle.connected
    third = come()
    server._make_room(now + 1)
    assert [one.connected for one in slow].count(False) == 1
    assert all(one.connected for one in (asked, first, second, third, elsewhere))


def test_in_all_the_place_with_the_most_gives_way(server: Server, come: Come) -> None:
    server.most = 20
    few = [come("192.0.2.2", HEAD % 9) for _ in range(5)]
    many = [come("192.0.2.1", HEAD % 9) for _ in range(20)]
    server._make_room(time.monotonic() + 10)
    assert all(one.connected for one in few)
    assert sum(one.connected for one in many) == 15


def test_threads_that_wait_for_slow_readers_come_free(
    server: Server, come: Come, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "MOST_WAITING_THREADS", 2)
    monkeypatch.setattr(Channel, "thread_waits", True)
    channels = [come() for _ in range(3)]
    for channel in channels:
        fill(channel)

    def take(second: int) -> None:
        for number, channel in enumerate(channels):
            if number != 1 and second < 15:
                channel.peer.recv(100_000)
                channel.handle_write()

    pass_time(server, 15, take)
    server._free_threads()
    assert [one.connected for one in channels] == [True, False, True]


@pytest.mark.parametrize("path", sorted(RESERVED))
def test_health_is_told_by_threads_of_its_own(server: Server, come: Come, path: str) -> None:
    channel = come(sent=b"GET /v1/supports HTTP/1.1\r\nHost: localhost\r\n\r\n")
    assert len(server.task_dispatcher.queue) == 1
    healthy = come(sent=f"GET {path} HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
    # Nobody is at work, and yet it is answered.
    healthy.peer.settimeout(60)
    while healthy.requests:
        time.sleep(0.01)
    assert channel.requests
    assert len(server.task_dispatcher.queue) == 1


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3::4", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("localhost", "localhost"),
        ("203.0.113.9", None),
    ],
)
def test_a_place_is_an_address_or_a_network(address: str, place: str | None) -> None:
    assert place_of(address, trusted_proxy="203.0.113.9") == place


def test_behind_a_proxy_turns_go_by_the_address_that_it_names(come: Come, server: Server) -> None:
    asking = b"GET / HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer k\r\n%s\r\n"
    named = asking % b"X-Forwarded-For: 198.51.100.4\r\n"
    # From anybody else it is a word of their own.
    assert come("192.0.2.1", named).turn == Turn("192.0.2.1", "Bearer k")
    server.adj.trusted_proxy = "203.0.113.9"
    assert come("203.0.113.9", named).turn == Turn("198.51.100.4", "Bearer k")
    plan = named.replace(b"GET /", b"GET /v1/plans")
    assert come("203.0.113.9", plan).turn == Turn("198.51.100.4", "Bearer k", soon=True)
    in_ipv6 = asking % b"X-Forwarded-For: 2001:db8::1:2:3:4\r\n"
    assert come("203.0.113.9", in_ipv6).turn == Turn("2001:db8::/64", "Bearer k")


def test_as_many_file_handles_as_are_needed_are_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[tuple[int, int]] = []
    monkeypatch.setattr(resource, "setrlimit", lambda _, limits: told.append(limits))
    most = []
    for limits in ((256, 1024), (1024, 1_000_000), (1024, resource.RLIM_INFINITY), (9000, 9000)):
        monkeypatch.setattr(resource, "getrlimit", lambda _, limits=limits: limits)
        most.append(make_room_for_handles())
    assert most == [412, 1000, 1000, 1000]
    assert told == [(1024, 1024), (2200, 1_000_000), (2200, resource.RLIM_INFINITY)]
