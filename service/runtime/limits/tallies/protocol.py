"""What a tally is, and how it is changed; and tallies in the memory of one process."""

from __future__ import annotations

import hashlib
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Protocol, TypeVar

#: What is counted: its kind, and which of them.
Name = tuple[str, str]
_T = TypeVar("_T")
#: How many of a kind one process remembers; the one that changed longest ago goes first.
MOST = 10_000


@dataclass(frozen=True, kw_only=True)
class Tally:
    """One count.

    Attributes:
        amount: How many, or what is left of a token bucket.
        at_s: When it was changed last, by the clock of where it is kept.
        until_s: Until when somebody has to wait.
        keep_s: How long it is remembered after its last change.
    """

    amount: float
    at_s: float
    until_s: float = 0.0
    keep_s: float = 600.0


Found = Mapping[Name, Tally]
#: Takes the time and the tallies that there are; returns its result and what has changed. It may
#: be called again where another process changed one of them meanwhile, so it has no other effect.
Act = Callable[[float, Found], tuple[_T, Found]]


class Tallies(Protocol):
    """Counts by name; one suite of tests checks every implementation."""

    def change(self, names: Sequence[Name], act: Act[_T]) -> _T:
        """Read these tallies, and write those that `act` returns, as one step."""


def left(tally: Tally | None, burst: float, rate_per_s: float, now: float) -> float:
    """What a token bucket has: full at first, and filled again by `rate_per_s`."""
    if tally is None:
        return float(burst)
    return min(float(burst), tally.amount + max(0.0, now - tally.at_s) * rate_per_s)


def known(tally: Tally | None, now: float) -> bool:
    """Whether it is still remembered."""
    return tally is not None and now - tally.at_s < tally.keep_s


def hidden(name: Name) -> str:
    """The name under which it is kept elsewhere: no address and no code can be read from it."""
    return f"{name[0]}:{hashlib.sha256(name[1].encode()).hexdigest()[:32]}"


class MemoryTallies:
    """In this process alone; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self.kinds: dict[str, OrderedDict[str, Tally]] = {}

    def change(self, names: Sequence[Name], act: Act[_T]) -> _T:
        """See `Tallies`."""
        with self._lock:
            now, found = self._clock(), dict[Name, Tally]()
            for kind, id_ in names:
                tally = self.kinds.setdefault(kind, OrderedDict()).get(id_)
                if tally is not None and known(tally, now):
                    found[kind, id_] = tally
            result, changed = act(now, found)
            for (kind, id_), tally in changed.items():
                kept = self.kinds.setdefault(kind, OrderedDict())
                kept[id_] = tally
                kept.move_to_end(id_)
                while len(kept) > MOST:
                    kept.popitem(last=False)
            return result
