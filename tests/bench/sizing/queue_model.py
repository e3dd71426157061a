"""The queue in simulated time: several workers, in the order in which the ledger gives out packs.

The order is that of `worker.store.ledger.packs.packs`: a pack's start is the later of the queue's
virtual time and the end of its payer's last pack; its end is its start plus its estimated cost;
the waiting pack with the smallest start comes next. Nothing else of the service is simulated:
claiming takes milliseconds, making seconds.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import factorial


@dataclass(frozen=True)
class Asked:
    """One pack: when it is asked for, who pays, and how long making it takes, in s."""

    at_s: float
    payer: int
    making_s: float


@dataclass(frozen=True)
class Served:
    """What became of it: when it was begun and when it was ready, in s."""

    asked: Asked
    begun_s: float
    ready_s: float

    @property
    def waited_s(self) -> float:
        """From asking to the beginning."""
        return self.begun_s - self.asked.at_s


class FairQueue:
    """Packs that wait, in the ledger's order."""

    def __init__(self, cost_s: float = 1.0) -> None:
        self._cost_s = cost_s
        self._ends: dict[int, float] = defaultdict(float)
        self._latest_end = 0.0
        # Starts of what is made, negated; those that ended are taken out when they come up.
        self._making: list[float] = []
        self._ended: list[float] = []
        self._waiting: list[tuple[float, float, int, Asked]] = []
        self._count = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, one: Asked) -> None:
        """Ask for a pack."""
        start = max(self._ends[one.payer], self._virtual_time())
        self._ends[one.payer] = start + self._cost_s
        self._latest_end = max(self._latest_end, start + self._cost_s)
        self._count += 1
        heapq.heappush(self._waiting, (start, one.at_s, self._count, one))

    def take(self) -> tuple[Asked, float]:
        """Begin the next one; also its start, with which `done` ends it."""
        start, _, _, one = heapq.heappop(self._waiting)
        heapq.heappush(self._making, -start)
        return one, start

    def done(self, start: float) -> None:
        """A pack is ready."""
        heapq.heappush(self._ended, -start)

    def _virtual_time(self) -> float:
        while self._ended and self._ended[0] == self._making[0]:
            heapq.heappop(self._ended)
            heapq.heappop(self._making)
        if self._making:
            return -self._making[0]
        return self._waiting[0][0] if self._waiting else self._latest_end


def simulate(asked: Iterable[Asked], workers: int, cost_s: float = 1.0) -> list[Served]:
    """Make all packs with so many workers; each makes one pack at a time to its end."""
    queue, served = FairQueue(cost_s), list[Served]()
    busy: list[tuple[float, float]] = []
    coming = sorted(asked, key=lambda one: one.at_s)
    at = 0
    while at < len(coming) or queue:
        free_s = busy[0][0] if busy else float("inf")
        if at < len(coming) and coming[at].at_s <= free_s:
            now_s = coming[at].at_s
            queue.put(coming[at])
            at += 1
        else:
            now_s, start = heapq.heappop(busy)
            queue.done(start)
        while queue and len(busy) < workers:
            one, start = queue.take()
            heapq.heappush(busy, (now_s + one.making_s, start))
            served.append(Served(one, now_s, now_s + one.making_s))
    return served


def erlang_c_wait_s(arrivals_s: float, making_s: float, workers: int) -> float:
    """Mean wait in a queue with random arrivals and making times (M/M/c), in s.

    Gross and Harris, "Fundamentals of Queueing Theory" (3rd edition, 1998), section 2.3.

    Args:
        arrivals_s: Packs that are asked for in a second, on average.
        making_s: Mean making time, in s.
        workers: How many make packs; together they must keep up.
    """
    load = arrivals_s * making_s
    spare = 1 - load / workers
    last = load**workers / factorial(workers) / spare
    waits = last / (sum(load**k / factorial(k) for k in range(workers)) + last)
    return waits * making_s / (workers * spare)


def percentile(values: Sequence[float], share: float) -> float:
    """The value that this share of the values does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
