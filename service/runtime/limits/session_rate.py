"""Rate limit on sessions: a course site starts as many as its students need, and no flood.

Each site has a token bucket. A class of thirty that opens a page starts thirty at once and then
renews each every ten minutes; the limit leaves room for five hundred students who come at once.
Where students' own browsers ask, each student has a small bucket of their own before that, so that
one of them cannot empty it for all.
All web processes count together (`service.runtime.limits.tallies`).
"""

from __future__ import annotations

import math

from service.http.errors import TooManySessions
from service.runtime.limits.tallies import MemoryTallies, Tallies, Tally, left
from service.runtime.limits.tallies.protocol import Found

#: Sessions that a site may start at once, and how fast it may start more.
BURST = 500
RATE_PER_S = 2.0
#: The same for one student, who opens a few pages at once and renews each every ten minutes.
BURST_EACH = 5
RATE_EACH_PER_S = 1 / 60.0


class SessionRate:
    """Sessions by site and student; safe to use from several threads.

    Args:
        tallies: Where they are counted; None: in this process.
    """

    def __init__(self, tallies: Tallies | None = None) -> None:
        self._tallies = tallies or MemoryTallies()

    def take(self, site_id: str) -> None:
        """Count a session that a site is about to start.

        Raises:
            TooManySessions: It has to wait first.
        """
        wait_s = self._take("site", site_id, BURST, RATE_PER_S)
        if wait_s:
            message = "This site starts too many sessions: renew those that there are, or wait."
            raise TooManySessions(message, retry_after_s=wait_s)

    def take_for(self, student_id: str, site_id: str) -> None:
        """Count a session for which a student's own browser asks: theirs first, then the site's.

        Raises:
            TooManySessions: The student, or the site, has to wait first.
        """
        wait_s = self._take("student", student_id, BURST_EACH, RATE_EACH_PER_S)
        if wait_s:
            message = "You have opened this too often just now: wait a minute, then try again."
            raise TooManySessions(message, retry_after_s=wait_s)
        self.take(site_id)

    def _take(self, kind: str, id_: str, burst: int, rate_per_s: float) -> int:
        """Take one from a token bucket.

        Returns:
            The seconds to wait where there is none, 0 where one was taken.
        """
        name = (kind, id_)

        def take(now: float, found: Found) -> tuple[int, Found]:
            there = left(found.get(name), burst, rate_per_s, now)
            if there < 1.0:
                return math.ceil((1.0 - there) / rate_per_s), {}
            full_in_s = burst / rate_per_s
            return 0, {name: Tally(amount=there - 1.0, at_s=now, keep_s=full_in_s)}

        return self._tallies.change([name], take)
