"""gunicorn's own log as lines of JSON, like the service's.

`service.http.logs` is not used: gunicorn's first process loads nothing of the application.
"""

from __future__ import annotations

import json
import logging
import time
from typing import Any

from gunicorn.glogging import Logger


class Lines(logging.Formatter):
    """A record as a line with time, level and event."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as a line of JSON."""
        moment = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(record.created))
        line: dict[str, Any] = {
            "time": f"{moment}.{int(record.msecs):03}+00:00",
            "level": record.levelname.lower(),
            "event": record.getMessage(),
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line)


class LineLogger(Logger):  # type: ignore[misc]  # gunicorn has no types.
    """gunicorn's logger, with these lines."""

    def setup(self, cfg: Any) -> None:
        """Prepare it, at the start and at each reload."""
        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(Lines())
