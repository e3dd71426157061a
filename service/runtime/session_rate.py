"""Rate limit on sessions: a course site starts as many as its students need, and no flood.

Each site has a token bucket. A class of thirty that opens a page starts thirty at once and then
renews each every ten minutes; the limit leaves room for five hundred students who come at once.
Where students' own browsers ask, each student has a small bucket of their own before that, so that
one of them cannot empty it for all.
The counts are in this process's memory: with several web processes each has its own.
"""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from service.http.errors import TooManySessions

#: Sessions that a site may start at once, and how fast it may start more.
BURST = 500
RATE_PER_S = 2.0
#: The same for one student, who opens a few pages at once and renews each every ten minutes.
BURST_EACH = 5
RATE_EACH_PER_S = 1 / 60.0
#: How many sites, and students, are remembered; the one that asked longest ago goes first.
MOST = 10_000


class SessionRate:
    """Sessions by site and student; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._sites = _Buckets(BURST, RATE_PER_S)
        self._students = _Buckets(BURST_EACH, RATE_EACH_PER_S)

    def take(self, site_id: str) -> None:
        """Count a session that a site is about to start.

        Raises:
            TooManySessions: It has to wait first.
        """
        with self._lock:
            wait_s = self._sites.take(site_id, self._clock())
        if wait_s:
            message = "This site starts too many sessions: renew those that there are, or wait."
            raise TooManySessions(message, retry_after_s=wait_s)

    def take_for(self, student_id: str, site_id: str) -> None:
        """Count a session for which a student's own browser asks: theirs first, then the site's.

        Raises:
            TooManySessions: The student, or the site, has to wait first.
        """
        with self._lock:
            wait_s = self._students.take(student_id, self._clock())
        if wait_s:
            message = "You have opened this too often just now: wait a minute, then try again."
            raise TooManySessions(message, retry_after_s=wait_s)
        self.take(site_id)


class _Buckets:
    """Token buckets by id."""

    def __init__(self, burst: int, rate_per_s: float) -> None:
        self._burst = burst
        self._rate_per_s = rate_per_s
        #: What each has left, and when that was counted.
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, id_: str, now: float) -> int:
        """Take one; returns the seconds to wait where there is none, 0 where one was taken."""
        left, at_s = self._left.pop(id_, (float(self._burst), now))
        left = min(self._burst, left + (now - at_s) * self._rate_per_s)
        refused = left < 1.0
        self._left[id_] = (left if refused else left - 1.0, now)
        while len(self._left) > MOST:
            self._left.popitem(last=False)
        return math.ceil((1.0 - left) / self._rate_per_s) if refused else 0
