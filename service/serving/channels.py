"""One connection: its stage, its pace, and how long it has been too slow.

A connection uses a thread only while its request is processed, not while the request arrives
or the response is sent. So that many slow ones hold nothing for long, headers must arrive
within a time, and bodies and responses must keep a pace that even a poor line keeps.
`connections` closes those that do not.
"""

from __future__ import annotations

import enum
import ipaddress
import time
from typing import Any

from waitress.channel import HTTPChannel
from waitress.utilities import Error

from service.serving.dispatcher import release_slot_if_long, slot_released
from service.serving.turns import SOON, Turn, forwarded_for, person_of

#: Seconds from the first byte of a request to the end of its headers.
HEADERS_S = 20.0
#: Seconds of allowance of a body and of a response: how long it may pause before it must have
#: caught up. A response has more, since the system buffers much of it for a poor line.
BODY_S, ANSWER_S = 30.0, 60.0
#: The least pace of bodies and responses. The slowest mobile data over which photos are sent
#: has 64 kbit/s up (UMTS, 3GPP TS 22.105), eight times as much.
PACE_BYTES_S = 1000.0
#: How often connections are checked, in seconds.
LOOK_EVERY_S = 1.0
#: The prefix that each household has at least in IPv6 (RFC 6177).
_IPV6_PLACE_BITS = 64


class Stage(enum.Enum):
    """The stage of a connection."""

    IDLE = "nothing is asked"
    HEADERS = "a request begins to come"
    BODY = "its body comes"
    ANSWERED = "it is being answered, and nothing waits to be taken"
    TAKING = "an answer waits to be taken"


#: The allowance of each stage, in s; the others have other limits or none.
_REST_S = {Stage.HEADERS: HEADERS_S, Stage.BODY: BODY_S, Stage.TAKING: ANSWER_S}


class RequestTimeout(Error):  # type: ignore[misc]  # waitress has no types.
    """The request arrived too slowly (RFC 9110, 15.5.9)."""

    code = 408
    reason = "Request Timeout"


class Channel(HTTPChannel):  # type: ignore[misc]  # waitress has no types.
    """A connection that measures its pace.

    Attributes:
        place: Where it comes from: connections are limited by place; None: not limited.
        rest: What is left of its allowance, as a share of it.
        pace: Bytes a second since its stage began.
    """

    #: The request that is arriving, if any.
    request: Any

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002 -- The base names it so.
        self.place = place_of(addr[0], adj.trusted_proxy)
        self._moved = 0
        self._active_s = time.monotonic()
        self._since_s = self._looked_s = self._active_s
        self._began = self._counted = 0
        self._about: tuple[Stage, object] = (Stage.IDLE, None)
        self._rest_s = 0.0
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> bool:
        """Take data that arrived, and count it."""
        self._move(len(data))
        return bool(super().received(data))

    def send(self, data: bytes, do_close: bool = True) -> int:  # noqa: FBT001, FBT002 -- The base's.
        """Send as much as the socket takes, and count it."""
        sent = int(super().send(data, do_close))
        self._move(sent)
        return sent

    def write_soon(self, data: Any) -> int:
        """Pass on a part of a response."""
        release_slot_if_long()
        return int(super().write_soon(data))

    def handle_expt(self) -> None:
        """Close it: HTTP has no urgent data, and the event would be raised again and again."""
        self.handle_close()

    def handle_close(self) -> None:
        """Close it, and the part of a body that arrived, which may be in a file."""
        super().handle_close()
        if self.request is not None:
            self.request.close()

    @property
    def turn(self) -> Turn:
        """For whom the request asks that is to be answered next."""
        request = self.requests[0]
        headers = request.headers
        place = self.place
        if place is None:
            place = place_of(forwarded_for(headers), None)
        return Turn(place, person_of(headers), getattr(request, "path", None) in SOON)

    @property
    def stage(self) -> Stage:
        """The stage now."""
        request = self.request
        if self.total_outbufs_len:
            return Stage.TAKING
        if self.requests:
            return Stage.ANSWERED
        if request is None:
            return Stage.IDLE
        return Stage.BODY if request.headers_finished else Stage.HEADERS

    def look(self, now: float) -> Stage:
        """Update pace and allowance since the last check; returns the stage."""
        stage, request = self.stage, self.request
        if (stage, request) != self._about:
            self._about, self._since_s = (stage, request), self._looked_s
            self._began = self._counted
            self._rest_s = _REST_S.get(stage, 0.0)
        moved, self._counted = self._moved - self._counted, self._moved
        self._rest_s -= now - self._looked_s
        if stage is not Stage.HEADERS:
            # Data that moves restores the allowance, up to its full size.
            self._rest_s = min(self._rest_s + moved / PACE_BYTES_S, _REST_S.get(stage, 0.0))
        self._looked_s = now
        return stage

    @property
    def rest(self) -> float:
        """The share of the allowance left at the last check; below 0: it was too slow."""
        return self._rest_s / _REST_S.get(self._about[0], 1.0)

    @property
    def pace(self) -> float:
        """Bytes a second of this stage, at the last check."""
        return (self._counted - self._began) / max(self._looked_s - self._since_s, LOOK_EVERY_S)

    @property
    def lasted_s(self) -> float:
        """Seconds that the stage had lasted at the last check."""
        return self._looked_s - self._since_s

    def idle_s(self, now: float) -> float:
        """Seconds since data last moved."""
        return now - self._active_s

    @property
    def thread_waits(self) -> bool:
        """Whether a thread waits for the client to read, since the response's buffer is full."""
        return bool(self.requests) and self.total_outbufs_len > self.adj.outbuf_high_watermark

    def refuse(self) -> None:
        """Answer 408 to the request that is arriving too slowly."""
        with self.requests_lock:
            request, self.request = self.request, None
            if request is None or self.requests:
                return
            request.error = RequestTimeout("The request came in too slowly.")
            request.completed = True
            self.requests.append(request)
        self.server.add_task(self)

    def _flush_outbufs_below_high_watermark(self) -> None:
        """Wait until the client has read, where the response is too long to be buffered."""
        if self.total_outbufs_len <= self.adj.outbuf_high_watermark:
            return
        with slot_released():
            super()._flush_outbufs_below_high_watermark()

    def _move(self, count: int) -> None:
        if count:
            self._moved += count
            self._active_s = time.monotonic()


def place_of(address: str, trusted_proxy: str | None) -> str | None:
    """Where a connection comes from: an IPv4 address, or the /64 network of an IPv6 address.

    None for the trusted proxy: everybody's requests come from it, and it has its own limits.
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
