"""Settings of gunicorn: `gunicorn --config python:service.web_processes.config`.

Read in gunicorn's first process, so nothing of the application is imported here. Each web process
reads the same variables as `worker.settings`, and refuses what cannot be used.
"""

from __future__ import annotations

import os
from typing import Any

from service.web_processes.replacement import REPLACEMENT


def _read(name: str, default: str) -> str:
    return os.environ.get(f"RICALCO_{name}", "").strip() or default


def _processes(written: str) -> int:
    """How many; one where this is no number, which that one then says and ends."""
    return int(written) if written.isdecimal() and int(written) else 1


bind = f"{_read('HOST', '127.0.0.1')}:{_read('PORT', '8640')}"
workers = _processes(_read("WEB_PROCESSES", "2"))
worker_class = "service.web_processes.process.WebProcess"
wsgi_app = "service.web_processes.process:application()"
#: Each process loads the application itself: threads and connections are not forked.
preload_app = False
#: A process that has not come by its loop for so long hangs, and is replaced. Starting counts too.
timeout = 120
#: Seconds until new processes answer at a reload, and for what is under way in the old ones, which
#: `service.web` gives up after ten.
graceful_timeout = 45
#: It would have addresses with secrets in it. The service logs requests itself, without them.
accesslog = None
logger_class = "service.web_processes.log_lines.LineLogger"
#: A second way to give orders to the first process, which nobody uses.
control_socket_disable = True


def on_reload(server: Any) -> None:
    """Note which processes a reload replaces."""
    REPLACEMENT.begin(server.worker_age)
