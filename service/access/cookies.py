"""The cookies: the one that a browser's sign-in is kept in, and the mark of who mistyped a code.

No script reads them (HttpOnly), and a browser sends them only with requests that our own
pages make (SameSite=Strict); the guard refuses other origins besides. Over TLS they are also
kept from plain connections, and the prefix `__Host-` (RFC 6265bis, 4.1.3.2) keeps other hosts
of the same domain from setting them; in a studio without certificates there is neither.
"""

from __future__ import annotations

from flask import Response, request

#: What the cookies are called, before the prefix.
SIGN_IN = "ricalco_key"
DEVICE = "ricalco_device"
_PREFIX = "__Host-"
#: A day: the mark says only who mistyped, and the service forgets that sooner.
_DEVICE_LASTS_S = 24 * 3600


def read_cookie(name: str) -> str | None:
    """What a cookie of ours holds; over TLS only one that this very host set."""
    return request.cookies.get(_called(name)) or None


def keep_device(response: Response, mark: str) -> Response:
    """Have the browser keep the mark of who mistyped a code: `runtime.failed_attempts`."""
    return _keep(response, DEVICE, mark, _DEVICE_LASTS_S)


def keep_sign_in(response: Response, key: str, lasts_s: int) -> Response:
    """Have the browser keep the key of its sign-in."""
    return _keep(response, SIGN_IN, key, lasts_s)


def forget_sign_in(response: Response) -> Response:
    """Have the browser forget it."""
    response.delete_cookie(
        _called(SIGN_IN), path="/", httponly=True, samesite="Strict", secure=request.is_secure
    )
    return response


def _keep(response: Response, name: str, value: str, lasts_s: int) -> Response:
    response.set_cookie(
        _called(name),
        value,
        max_age=lasts_s,
        path="/",
        httponly=True,
        samesite="Strict",
        secure=request.is_secure,
    )
    return response


def _called(name: str) -> str:
    return _PREFIX + name if request.is_secure else name
