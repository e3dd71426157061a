"""The request log: one JSON object a line on standard error, with route, status and duration.

Routes are logged as patterns (`/v1/packs/<pack_id>`), never with the ids of the request:
an id can be enough to read a pack. Names, titles, file names and keys are not logged either.
"""

from __future__ import annotations

import logging
import time

from flask import Flask, Response, g, request

from service.http.requests.request_id import request_id
from worker import log_lines

_log = logging.getLogger("ricalco.service")


class _NoAddresses(logging.Filter):
    """Removes the address, which has ids in it, from what waitress logs about a fault."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Keep the record, without the address."""
        if record.exc_info:
            record.msg, record.args = "An answer broke off.", ()
        return True


def log_to_stderr(level: str) -> None:
    """Send this process's log to standard error; called once, when the process starts."""
    log_lines.log_to_stderr(level)
    logging.getLogger("waitress").addFilter(_NoAddresses())
    # It warns of every queued request, which on a small machine is normal, and logs the
    # addresses, with ids, of requests whose clients have gone.
    logging.getLogger("waitress").setLevel(logging.WARNING)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)


def log_requests(app: Flask, trusted_proxy: str = "") -> None:
    """Give every request an id and a line in the log.

    Args:
        app: The application.
        trusted_proxy: The address of the proxy whose ids are taken; empty: there is none.
    """

    @app.before_request
    def begin() -> None:
        g.request_id = request_id(trusted_proxy)
        g.began_s = time.perf_counter()
        log_lines.note_facts(request_id=g.request_id)

    @app.after_request
    def end(response: Response) -> Response:
        facts = {
            "request_id": g.get("request_id"),
            "method": request.method if request.method in _METHODS else "other",
            "route": request.url_rule.rule if request.url_rule else None,
            "status": response.status_code,
            "ms": round(1000 * (time.perf_counter() - g.get("began_s", time.perf_counter())), 1),
        }
        quiet = facts["route"] in {"/healthz", "/readyz", "/metrics"}
        _log.log(logging.DEBUG if quiet else logging.INFO, "request", extra={"facts": facts})
        response.headers["X-Request-Id"] = str(facts["request_id"])
        return response

    @app.teardown_request
    def over(_: BaseException | None) -> None:
        log_lines.note_facts()


_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
