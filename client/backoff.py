"""How long to wait before a request is tried again.

A service that is starting, restarting or busy is ready again in a moment, or says when:
so waits grow from a quarter of a second, differ a little between clients, and give way to
what Retry-After says (RFC 9110, 10.2.3).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

FIRST_S = 0.25
LONGEST_S = 8.0
#: Who is told to come back later than this is told so, and does not hang.
LONGEST_RETRY_AFTER_S = 60.0
#: Statuses that say "not now" and not "no" (RFC 6585, RFC 9110).
NOT_NOW = frozenset({429, 502, 503, 504})


def waits(tries: int) -> Iterator[float]:
    """Seconds to wait between `tries` tries: one fewer than there are tries."""
    for turn in range(tries - 1):
        spread = random.uniform(0.75, 1.25)  # noqa: S311 -- spreads clients out, guards nothing.
        yield min(LONGEST_S, FIRST_S * 2**turn) * spread


def retry_after(header: str | None, *, now: datetime | None = None) -> float | None:
    """Seconds that a Retry-After header asks for; None without one that can be read."""
    if header is None:
        return None
    text = header.strip()
    if text.isascii() and text.isdigit():
        return float(text)
    try:
        at = parsedate_to_datetime(text)
    except ValueError:
        return None
    if at.tzinfo is None:
        at = at.replace(tzinfo=UTC)
    return max(0.0, (at - (now or datetime.now(UTC))).total_seconds())
