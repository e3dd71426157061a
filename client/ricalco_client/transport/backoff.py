"""How long to wait before a request is repeated: exponential backoff with jitter, and Retry-After.

A service that starts or is busy is soon ready again, or says when (RFC 9110, 10.2.3).

urllib3's `Retry` does not fit: it decides by status without the problem code (409 is repeated
for one code only), does not wait before the first repeat, and waits out or shortens a long
Retry-After where the caller should get the error at once.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

FIRST_S = 0.25
LONGEST_S = 8.0
#: A longer Retry-After is not waited for: the caller gets the error.
LONGEST_RETRY_AFTER_S = 60.0
#: Statuses of passing faults: too many requests, or the server not ready (RFC 6585, RFC 9110).
RETRY_STATUSES = frozenset({429, 502, 503, 504})


def backoff_times(attempts: int) -> Iterator[float]:
    """Seconds to wait between `attempts` attempts: one fewer than there are attempts."""
    for repeat in range(attempts - 1):
        jitter = random.uniform(0.75, 1.25)  # noqa: S311 -- Spreads clients in time; no secret.
        yield min(LONGEST_S, FIRST_S * 2**repeat) * jitter


def retry_after(header: str | None, *, now: datetime | None = None) -> float | None:
    """Seconds that a Retry-After header asks for; None if it is absent or malformed."""
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
