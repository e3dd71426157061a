"""The request log: one JSON object a line on standard error, with route, status and duration.

Routes are logged as patterns (`/v1/packs/<pack_id>`), never with the ids of the request:
an id can be enough to read a pack. Names, titles, file names and keys are not logged either.
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
    """Removes the address, which has ids in it, from what waitress logs about a fault."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Keep the record, without the address."""
        if record.exc_info:
            record.msg, record.args = "An answer broke off.", ()
        return True


class JsonLines(logging.Formatter):
    """A record as one line of JSON; `extra={"facts": {…}}` adds members."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as a line of JSON."""
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
    """Send this process's log to standard error; called once, when the process starts."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=level, handlers=[handler], force=True)
    logging.getLogger("waitress").addFilter(_NoAddresses())
    # It warns of every queued request, which on a small machine is normal, and logs the
    # addresses, with ids, of requests whose clients have gone.
    logging.getLogger("waitress").setLevel(logging.WARNING)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    # At DEBUG it logs presigned addresses, each of which opens a file to whoever reads the log.
    logging.getLogger("botocore").setLevel(logging.WARNING)
    # It logs at every start that there is nothing to migrate.
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
