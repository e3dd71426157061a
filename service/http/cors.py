"""Course pages that call the API from a browser: the CORS protocol of the Fetch Standard.

Pages at an origin that a course site names may call `/v1` with the token of a session, sent as
`Authorization: Bearer` (RFC 6750, 2.1). Cookies are neither asked for nor looked at, so
`Access-Control-Allow-Credentials` is never sent, and a person who is signed in here lends a
course page nothing. Whether a token is for that origin, `service.access.rules` checks.
"""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus

from flask import Flask, Response, g, request

API = "/v1/"
#: What a page may send besides headers that need no permission.
ALLOWED_HEADERS = "Authorization, Content-Type, Idempotency-Key, If-Match, If-None-Match, Range"
ALLOWED_METHODS = "GET, HEAD, POST, PUT, PATCH, DELETE"
#: What a page may read besides `Cache-Control`, `Content-Length`, `Content-Type` and the like.
EXPOSED_HEADERS = (
    "Accept-Ranges",
    "Content-Disposition",
    "Content-Range",
    "Deprecation",
    "ETag",
    "Idempotency-Replayed",
    "Link",
    "Location",
    "RateLimit",
    "RateLimit-Policy",
    "Repr-Digest",
    "Retry-After",
    "Ricalco-Thresholds",
    "Ricalco-Tones",
    "Sunset",
    "WWW-Authenticate",
    "X-Request-Id",
)
#: Seconds for which a browser keeps the answer to a preflight. Chromium takes no more.
PREFLIGHT_S = 7200


def course_origin() -> str | None:
    """The origin of the course page that sent this request; None: no other site's page did."""
    origin: str | None = g.get("course_origin")
    return origin


def admit_course_page(names_origin: Callable[[str], bool]) -> bool:
    """Whether a page of a course site calls the API; for this request it is noted."""
    origin = request.headers.get("Origin")
    if origin is None or not request.path.startswith(API) or not names_origin(origin):
        return False
    g.course_origin = origin
    return True


def answer_course_pages(app: Flask) -> None:
    """Answer preflights, and let course pages read what they are answered."""

    @app.before_request
    def preflight() -> Response | None:
        asked = request.headers.get("Access-Control-Request-Method")
        if request.method != "OPTIONS" or asked is None or course_origin() is None:
            return None
        response = Response(status=HTTPStatus.NO_CONTENT)
        response.headers["Access-Control-Allow-Methods"] = ALLOWED_METHODS
        response.headers["Access-Control-Allow-Headers"] = ALLOWED_HEADERS
        response.headers["Access-Control-Max-Age"] = str(PREFLIGHT_S)
        return response

    @app.after_request
    def allow(response: Response) -> Response:
        if request.path.startswith(API):
            # Also where no page asks: a cache must not give its answer to one.
            response.headers.add("Vary", "Origin")
        if origin := course_origin():
            response.headers["Access-Control-Allow-Origin"] = origin
            response.headers["Access-Control-Expose-Headers"] = ", ".join(EXPOSED_HEADERS)
        return response
