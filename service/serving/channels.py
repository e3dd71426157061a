"""One connection: what it is about, and how well it gets on.

It costs no thread while a request is sent or an answer taken, only while it is answered. So
that a hoard of slow ones holds nothing for long, headers come within a time, and bodies and
answers keep up a pace that a poor line keeps easily. What follows from it, `connections` says.
"""

from __future__ import annotations

import enum
import ipaddress
import time
from typing import Any

from waitress.channel import HTTPChannel
from waitress.utilities import Error

from service.serving.dispatcher import release_slot_if_long, slot_released

#: From the first byte of a request to the end of its headers.
HEADERS_S = 20.0
#: How long a body, or an answer, may rest before it must have made up for it. An answer may
#: rest for longer: the system holds a good deal of it back before a poor line has taken it.
BODY_S, ANSWER_S = 30.0, 60.0
#: The pace of bodies and answers. The poorest line of mobile data that photos are sent over
#: carries 64 kbit/s up (UMTS, 3GPP TS 22.105), which is eight times as much.
PACE_BYTES_S = 1000.0
#: How often it is looked at.
LOOK_EVERY_S = 1.0
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
        release_slot_if_long()
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
        with slot_released():
            super()._flush_outbufs_below_high_watermark()

    def _move(self, count: int) -> None:
        if count:
            self._moved += count
            self._active_s = time.monotonic()


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
