"""In which order requests that wait come to their turn: fair by address, and there by person.

Behind a proxy all connections come from one address, so there the address is the one that the
proxy names. A class has one address as well, so that within it persons take turns. Who a person is
has not been checked here: made-up keys gain turns within their own address alone, of which the
proxy lets in so many connections (`deploy/nginx/http.conf`), as `connections` does without one.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Hashable, Mapping
from typing import NamedTuple, Protocol

#: What a page asks for while a finger moves, unlike lists and files: of a thousand persons with one
#: request each nobody has less than another, and a plan in their midst waited for up to 3 s.
SOON = frozenset({"/v1/plans"})


class Turn(NamedTuple):
    """For whom a request asks.

    Attributes:
        place: Where it comes from.
        person: What it says of who asks, as it is sent; empty: nothing.
        soon: Whether it is one of `SOON`.
    """

    place: str | None
    person: str = ""
    soon: bool = False


class Request(Protocol):
    """A connection with a request on it, as waitress hands it to its threads."""

    @property
    def turn(self) -> Turn:
        """For whom it asks."""

    def service(self) -> None:
        """Answer it."""

    def cancel(self) -> None:
        """Drop it without an answer."""


class _Waiting(Protocol):
    """Requests that wait; never an empty one is kept."""

    def append(self, request: Request) -> None: ...

    def popleft(self) -> Request: ...

    def __len__(self) -> int: ...


class _OfOnePerson(deque[Request]):
    """The newest and the oldest in turn: a new one is answered soon, and none waits for ever."""

    _newest = False

    def popleft(self) -> Request:
        self._newest = not self._newest
        return super().pop() if self._newest else super().popleft()


class _Round:
    """Requests of several, of whom each second turn goes to one who had nothing, if there is one.

    The other turns go round those who have more. So whoever asks for one thing at a time waits
    for one or two turns, however many things others have asked for.

    Args:
        key: Of whom a request is.
        had_nothing: Whether nothing of theirs is being answered.
        within: Makes what their requests wait in.
    """

    def __init__(
        self,
        key: Callable[[Request], Hashable],
        had_nothing: Callable[[Request], bool],
        within: Callable[[], _Waiting],
    ) -> None:
        self._key, self._had_nothing, self._within = key, had_nothing, within
        self._new: dict[Hashable, _Waiting] = {}
        self._others: dict[Hashable, _Waiting] = {}
        self._turns = self._count = 0

    def __len__(self) -> int:
        return self._count

    def append(self, request: Request) -> None:
        """Add a request that waits."""
        key = self._key(request)
        theirs = self._new.get(key) or self._others.get(key)
        if theirs is None:
            theirs = self._within()
            lane = self._new if self._had_nothing(request) else self._others
            lane[key] = theirs
        theirs.append(request)
        self._count += 1

    def popleft(self) -> Request:
        """Remove the request that is served next."""
        self._turns += 1
        if self._new and (self._turns % 2 or not self._others):
            lane = self._new
            # Under overload the last who came is still answered soon, and the first some day.
            key = next(reversed(lane)) if self._turns // 2 % 2 == 0 else next(iter(lane))
        else:
            lane = self._others
            key = next(iter(lane))
        theirs = lane.pop(key)
        request = theirs.popleft()
        if theirs:
            # To the end: the others come first.
            self._others[key] = theirs
        self._count -= 1
        return request


class FairQueue:
    """Requests that wait for a slot, in turns by place, and there by person.

    Each second turn is for those that somebody waits for with a finger on the screen.
    """

    def __init__(self) -> None:
        self._held = Counter[Hashable]()
        self._soon, self._others = self._round(), self._round()
        self._soon_first = False

    def _round(self) -> _Round:
        return _Round(
            lambda request: request.turn.place,
            lambda request: not self._held[request.turn.place],
            lambda: _Round(
                lambda request: request.turn.person,
                lambda request: not self._held[request.turn[:2]],
                _OfOnePerson,
            ),
        )

    def __len__(self) -> int:
        return len(self._soon) + len(self._others)

    def append(self, request: Request) -> None:
        """Add a request that waits."""
        (self._soon if request.turn.soon else self._others).append(request)

    def popleft(self) -> Request:
        """Remove the request that is served next."""
        self._soon_first = not self._soon_first
        if self._soon and (self._soon_first or not self._others):
            return self._soon.popleft()
        return self._others.popleft()

    def hold(self, turn: Turn, slots: int) -> None:
        """Note that a request of theirs has taken a slot (1) or given it away (-1)."""
        for key in (turn[:2], turn.place):
            self._held[key] += slots
            if not self._held[key]:
                del self._held[key]


def person_of(headers: Mapping[str, str]) -> str:
    """What a request says of who asks: a key or a session's token, else a browser's cookies.

    Args:
        headers: By their names as waitress writes them.
    """
    return headers.get("AUTHORIZATION") or headers.get("COOKIE", "")


def forwarded_for(headers: Mapping[str, str]) -> str:
    """The address that the trusted proxy names, as it wrote it last; empty: none."""
    return headers.get("X_FORWARDED_FOR", "").rpartition(",")[2].strip(' "[]')
