"""The cookie that a device's key is kept in.

No script reads it (HttpOnly), and a browser sends it only with requests that our own pages
make (SameSite=Strict); the guard refuses other origins besides. Over TLS it is also kept
from plain connections; in a studio without certificates there are none to keep it from.
"""

from __future__ import annotations

from flask import Response, request

from service.desk import COOKIE

#: A school year; the key behind it can be withdrawn on any day.
LASTS_S = 400 * 24 * 3600


def keep_key(response: Response, key: str) -> Response:
    """Have the browser keep a key."""
    response.set_cookie(
        COOKIE,
        key,
        max_age=LASTS_S,
        path="/",
        httponly=True,
        samesite="Strict",
        secure=request.is_secure,
    )
    return response


def forget_key(response: Response) -> Response:
    """Have the browser forget it."""
    response.delete_cookie(COOKIE, path="/", httponly=True, samesite="Strict")
    return response
