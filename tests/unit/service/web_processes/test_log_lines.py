"""gunicorn's log has the form of the service's."""

from __future__ import annotations

import json
import logging
from typing import Any

from service.web_processes.log_lines import Lines
from worker.log_lines import JsonLines


def line(formatter: logging.Formatter, **more: Any) -> dict[str, Any]:
    record = logging.LogRecord("gunicorn", logging.WARNING, "file", 1, "Ended: %s", ("3",), None)
    record.__dict__.update(more)
    return dict(json.loads(formatter.format(record)))


def test_a_line_is_like_one_of_the_service() -> None:
    ours, theirs = line(Lines(), created=1e9, msecs=5.0), line(JsonLines(), created=1e9 + 0.005)
    assert ours == theirs
    assert ours["event"] == "Ended: 3"


def test_a_trace_stands_in_the_line() -> None:
    fault = ZeroDivisionError()
    told = line(Lines(), exc_info=(type(fault), fault, None))
    assert "ZeroDivisionError" in told["trace"]
