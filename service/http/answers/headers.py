"""Security headers of every response, so that a browser only shows it.

API responses are data and need no resources. The page sets a wider `Content-Security-Policy`
of its own: see `service.page`.
"""

from __future__ import annotations

from flask import Flask, Response, request

#: `base-uri`, `form-action` and `frame-ancestors` do not fall back to `default-src`.
SAFE = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": (
        "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

#: Seconds for which a browser uses TLS only with this host, after a first request over TLS
#: (RFC 6797). Not with its subdomains, of which nothing is known. A year (common practice).
TLS_S = 365 * 24 * 3600
#: Browsers show a PDF inside a page of their own, which a policy without any sources could
#: leave empty.
PDF_POLICY = "frame-ancestors 'none'"


def protect(app: Flask) -> None:
    """Add each header that a response has not set itself."""

    @app.after_request
    def add(response: Response) -> Response:
        if response.mimetype == "application/pdf":
            response.headers.setdefault("Content-Security-Policy", PDF_POLICY)
        if request.is_secure:
            response.headers.setdefault("Strict-Transport-Security", f"max-age={TLS_S}")
        for name, value in SAFE.items():
            response.headers.setdefault(name, value)
        return response
