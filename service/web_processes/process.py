"""One web process under gunicorn: waitress on the socket that all of them share.

Whichever process is free accepts a connection. On SIGTERM a process accepts no more, ends its
event streams, whose clients then connect to another one, answers what is under way, and ends. When
it is replaced by a reload it goes on until a new one answers.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
import time
from typing import TYPE_CHECKING, Any

from gunicorn.workers.base import Worker

from service.web_processes.replacement import REPLACEMENT

if TYPE_CHECKING:
    from flask import Flask

_LOG = logging.getLogger(__name__)
#: Between two tries to reach a ledger that is away.
PAUSE_S = 1.0


def application() -> Flask:
    """The application, with the settings of the environment.

    Raises:
        SetupError: This machine is not ready.
    """
    # Loaded by each process after the fork: see the package's docstring.
    from service.app import create_app  # noqa: PLC0415
    from service.http.logs.program_log import log_to_stderr  # noqa: PLC0415
    from worker.settings import Settings  # noqa: PLC0415

    settings = Settings.from_env()
    log_to_stderr(settings.log_level)
    return create_app(settings)


class WebProcess(Worker):  # type: ignore[misc]  # gunicorn has no types.
    """What gunicorn forks.

    Attributes:
        wsgi: The application, once it is loaded.
    """

    wsgi: Any

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._stop = threading.Event()
        self._asked = False

    def load_wsgi(self) -> None:
        """Load the application; where the ledger does not answer, wait until it does.

        A process that ended instead would have gunicorn end as well, and a database that
        restarts would take all processes with it that were just being replaced.
        """
        from service.serving.listening import NOT_READY  # noqa: PLC0415
        from worker.errors import LedgerUnavailable, SetupError  # noqa: PLC0415

        while self._goes_on():
            try:
                super().load_wsgi()
            except LedgerUnavailable as error:
                _LOG.warning("The web waits for the ledger: %s", error)
                time.sleep(PAUSE_S)
            except SetupError as error:
                sys.stderr.write(f"{error.detail}\n")
                # gunicorn ends too: it takes this code for a process that cannot start.
                sys.exit(NOT_READY)
            else:
                return
        sys.exit(0)

    def run(self) -> None:
        """Answer requests until asked to stop."""
        from service.runtime.context import EXTENSION  # noqa: PLC0415
        from service.web import serve  # noqa: PLC0415

        context = self.wsgi.extensions[EXTENSION]
        context.intake.warm()
        # gunicorn wraps the socket in an object of its own.
        serve(self.wsgi, context.settings, self.sockets[0].sock, self._stop, self._each_round)

    def handle_exit(self, sig: int, frame: object) -> None:
        """SIGTERM: stop with what is under way answered; at a reload, once others can answer.

        A second signal does not wait for these.
        """
        del sig, frame
        if self._asked or not REPLACEMENT.lasts(self.age):
            self._end()
        self._asked = True

    def _each_round(self) -> None:
        REPLACEMENT.ready(self.age)
        if self._asked and not REPLACEMENT.lasts(self.age):
            self._end()
        if not self._goes_on():
            self._stop.set()

    def _end(self) -> None:
        self.alive = False
        self._stop.set()

    def _goes_on(self) -> bool:
        """Tell gunicorn that this process lives; False: it is to end."""
        self.notify()
        # A first process that was killed leaves its children behind.
        return bool(self.alive) and os.getppid() == self.ppid
