"""Headers that every answer carries, so that a browser does nothing with it but show it.

The service answers with data, never with a page of its own; a page that is served later
must set its own, wider `Content-Security-Policy`.
"""

from __future__ import annotations

from flask import Flask, Response, request

#: `frame-ancestors` has no fallback from `default-src`, so it is written out.
SAFE = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

#: For so long a browser asks this host over TLS only, once it has come over TLS (RFC 6797);
#: only this host, since nothing is known of others of its domain. A year (common practice).
TLS_S = 365 * 24 * 3600
#: A browser draws a PDF in a page of its own making, which a policy without sources could
#: leave empty.
PDF_POLICY = "frame-ancestors 'none'"


def protect(app: Flask) -> None:
    """Add the headers where an answer has not set its own."""

    @app.after_request
    def add(response: Response) -> Response:
        if response.mimetype == "application/pdf":
            response.headers.setdefault("Content-Security-Policy", PDF_POLICY)
        if request.is_secure:
            response.headers.setdefault("Strict-Transport-Security", f"max-age={TLS_S}")
        for name, value in SAFE.items():
            response.headers.setdefault(name, value)
        return response
