"""Rate limits told before they are met: the fields RateLimit-Policy and RateLimit.

After draft-ietf-httpapi-ratelimit-headers-11 (May 2026), a work in progress: both are Lists
(RFC 9651, 3.1) of policy names with parameters. `q` and `w` are a policy's quota and its
window in seconds; `r` is what is left of it, and `t` in how many seconds there is more.
Partition keys (`pk`) are left out, since they would tell people apart.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from flask import Response

RATE_HEADERS: Final[dict[str, Any]] = {
    "RateLimit-Policy": {
        "description": "The limits: quota `q` in `w` seconds "
        "(draft-ietf-httpapi-ratelimit-headers-11).",
        "schema": {"type": "string"},
    },
    "RateLimit": {
        "description": "What is left: `r` now, and more in `t` seconds.",
        "schema": {"type": "string"},
    },
}


@dataclass(frozen=True, kw_only=True)
class Allowance:
    """What is left of one limit.

    Attributes:
        name: The policy's name, in small letters and hyphens.
        quota: How many are allowed in a window.
        window_s: The window.
        left: How many are allowed now.
        more_in_s: In how many seconds there is more; None: nothing was used up.
    """

    name: str
    quota: int
    window_s: int
    left: int
    more_in_s: int | None


def tell(response: Response, allowances: Iterable[Allowance]) -> Response:
    """Put both fields on a response."""
    known = list(allowances)
    response.headers["RateLimit-Policy"] = ", ".join(
        f'"{one.name}";q={one.quota};w={one.window_s}' for one in known
    )
    response.headers["RateLimit"] = ", ".join(
        f'"{one.name}";r={one.left}' + ("" if one.more_in_s is None else f";t={one.more_in_s}")
        for one in known
    )
    return response
