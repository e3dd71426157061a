"""Rate limit on sessions: a course site starts as many as its students need, and no flood.

Each site has a token bucket. A class of thirty that opens a page starts thirty at once and then
renews each every ten minutes; the limit leaves room for five hundred students who come at once.
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
#: How many sites are remembered; the one that asked longest ago goes first.
MOST = 10_000


class SessionRate:
    """Sessions by site; safe to use from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        #: What each site has left, and when that was counted.
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, site_id: str) -> None:
        """Count a session that a site is about to start.

        Raises:
            TooManySessions: It has to wait first.
        """
        with self._lock:
            now = self._clock()
            left, at_s = self._left.pop(site_id, (float(BURST), now))
            left = min(BURST, left + (now - at_s) * RATE_PER_S)
            refused = left < 1.0
            self._left[site_id] = (left if refused else left - 1.0, now)
            while len(self._left) > MOST:
                self._left.popitem(last=False)
        if refused:
            message = "This site starts too many sessions: renew those that there are, or wait."
            raise TooManySessions(message, retry_after_s=math.ceil((1.0 - left) / RATE_PER_S))
