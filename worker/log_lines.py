"""The log of every program: one JSON object a line on standard error.

What is being done is noted once, for the thread that does it (`log_facts`): the id of the request,
or of the request that asked for the pack that is being made. Every line that is written meanwhile
has it, a library's too.
"""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

_FACTS: ContextVar[Mapping[str, Any]] = ContextVar("facts", default={})  # noqa: B039 - never changed


class JsonLines(logging.Formatter):
    """A record as one line of JSON; `extra={"facts": {…}}` adds members."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as a line of JSON."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **_FACTS.get(),
            **getattr(record, "facts", {}),
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line)


def note_facts(**facts: object) -> None:
    """Have all lines of this thread carry these facts from now on, in place of earlier ones."""
    _FACTS.set({name: value for name, value in facts.items() if value is not None})


@contextmanager
def log_facts(**facts: object) -> Iterator[None]:
    """Have all lines of this thread carry these facts while the block runs; None is left out."""
    known = {name: value for name, value in facts.items() if value is not None}
    token = _FACTS.set({**_FACTS.get(), **known})
    try:
        yield
    finally:
        _FACTS.reset(token)


def log_to_stderr(level: str) -> None:
    """Send this process's log to standard error; called once, when the process starts."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=level, handlers=[handler], force=True)
    # At DEBUG it logs presigned addresses, each of which opens a file to whoever reads the log.
    logging.getLogger("botocore").setLevel(logging.WARNING)
    # It logs at every start that there is nothing to migrate.
    logging.getLogger("alembic").setLevel(logging.WARNING)
