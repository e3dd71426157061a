"""The two cookies: the key of a browser's sign-in, and the id of a device that mistyped a code.

No script can read them (HttpOnly), and a browser sends them only with requests from our own
pages (SameSite=Strict); the host guard refuses other origins too. Over TLS they are `Secure`,
and the prefix `__Host-` (RFC 6265bis, 4.1.3.2) keeps other hosts of the same domain from
setting them. Without TLS, as in a studio without certificates, browsers allow neither.
"""

from __future__ import annotations

from flask import Response, request

#: Names of the cookies, without the prefix.
SIGN_IN = "ricalco_key"
DEVICE = "ricalco_device"
_PREFIX = "__Host-"
#: Seconds: a day. The service forgets failed attempts sooner than that.
_DEVICE_LASTS_S = 24 * 3600


def read_cookie(name: str) -> str | None:
    """The value of one of the two cookies; over TLS only one that this host itself set."""
    return request.cookies.get(_prefixed(name)) or None


def keep_device(response: Response, mark: str) -> Response:
    """Set the cookie with a device's id, by which `runtime.failed_attempts` counts."""
    return _set_cookie(response, DEVICE, mark, _DEVICE_LASTS_S)


def keep_sign_in(response: Response, key: str, lasts_s: int) -> Response:
    """Set the cookie with the key of the browser's sign-in."""
    return _set_cookie(response, SIGN_IN, key, lasts_s)


def forget_sign_in(response: Response) -> Response:
    """Delete the cookie of the sign-in."""
    response.delete_cookie(
        _prefixed(SIGN_IN), path="/", httponly=True, samesite="Strict", secure=request.is_secure
    )
    return response


def _set_cookie(response: Response, name: str, value: str, lasts_s: int) -> Response:
    response.set_cookie(
        _prefixed(name),
        value,
        max_age=lasts_s,
        path="/",
        httponly=True,
        samesite="Strict",
        secure=request.is_secure,
    )
    return response


def _prefixed(name: str) -> str:
    return _PREFIX + name if request.is_secure else name
