"""One JSON object a line on standard error: what was asked, how it ended, how long it took.

Routes are logged as they are written in the code (`/v1/packs/<pack_id>`), never as they
were asked for: whoever has an id can read the pack. Names, titles, file names and keys
are not logged either.
"""

from __future__ import annotations

import json
import logging
import secrets
import sys
import time
from datetime import UTC, datetime
from typing import Any

from flask import Flask, Response, g, request

_log = logging.getLogger("ricalco.service")


class _NoAddresses(logging.Filter):
    """Keeps out of the log what the server tells of a fault: the address, ids and all."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let the record pass, without the address."""
        if record.exc_info:
            record.msg, record.args = "An answer broke off.", ()
        return True


class JsonLines(logging.Formatter):
    """A record as one line of JSON; `extra={"facts": {…}}` adds members."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "facts", {}),
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line)


def log_to_stderr(level: str) -> None:
    """Send this process's log to standard error; called once, by whoever starts it."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=level, handlers=[handler], force=True)
    logging.getLogger("waitress").addFilter(_NoAddresses())
    # It warns of every queued request, which on a small machine is no news, and tells the
    # addresses that callers hung up on, ids and all.
    logging.getLogger("waitress").setLevel(logging.WARNING)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    # It tells at every start that there is nothing to migrate.
    logging.getLogger("alembic").setLevel(logging.WARNING)


def log_requests(app: Flask) -> None:
    """Give every request an id and a line in the log."""

    @app.before_request
    def begin() -> None:
        g.request_id = secrets.token_hex(8)
        g.began_s = time.perf_counter()

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


_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
