"""One command that starts web and worker, watches both, and stops both.

Each child's standard input is a pipe that only the supervisor can write to and never does.
Closing it asks the child to stop; when the supervisor dies, however it dies, the system
closes it. So no child is ever left behind, on any system and without process groups.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http import HTTPStatus
from http.client import HTTPConnection, HTTPException
from types import FrameType

from service.guard import require_loopback
from service.web import NOT_READY, listen
from worker.errors import SetupError
from worker.settings import Settings
from worker.storage import open_storage

#: A child that ran this long is healthy: its next start does not wait.
HEALTHY_S = 30.0
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
#: A worker may finish the pack that it is making.
WEB_PATIENCE_S, WORKER_PATIENCE_S = 15.0, 60.0
LOOK_EVERY_S = 0.1
#: What a child ends with when trying again would be no use; 78 is sysexits.h's EX_CONFIG.
NOT_READY_CODES = frozenset({NOT_READY, 78})
_WATCH = "--watch-parent"


@dataclass(kw_only=True)
class Child:
    """A process that is started again whenever it ends.

    Attributes:
        module: What `python -m` runs.
        patience_s: How long it may take to stop.
    """

    name: str
    module: str
    patience_s: float
    environment: dict[str, str]
    process: subprocess.Popen[bytes] | None = None
    started_s: float = 0.0
    pause_s: float = 0.0
    again_at_s: float = field(default=0.0)

    def start(self) -> None:
        """Start it, apart from the terminal's signals: the supervisor alone hears Ctrl-C."""
        self.started_s = time.monotonic()
        self.process = subprocess.Popen(  # noqa: S603 -- Our own interpreter and module.
            [sys.executable, "-m", self.module, _WATCH],
            stdin=subprocess.PIPE,
            env=self.environment,
            start_new_session=os.name == "posix",
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )

    def ended(self) -> int | None:
        """Its exit code when it has ended."""
        return self.process.poll() if self.process else None

    def again(self) -> None:
        """Start it again, the later the sooner it died before."""
        now = time.monotonic()
        if self.process is not None:
            self._close_pipe()
            self.process = None
            healthy = now - self.started_s > HEALTHY_S
            self.pause_s = (
                FIRST_PAUSE_S
                if healthy
                else min(LONGEST_PAUSE_S, 2 * self.pause_s or FIRST_PAUSE_S)
            )
            self.again_at_s = now + self.pause_s
            _say(f"The {self.name} process ended; it is started again in {self.pause_s:g} s.")
        elif now >= self.again_at_s:
            self.start()

    def ask_to_stop(self) -> None:
        """Close its pipe."""
        self._close_pipe()

    def wait(self) -> None:
        """Wait until it has stopped, and end it when it takes too long."""
        if self.process is None:
            return
        try:
            self.process.wait(self.patience_s)
        except subprocess.TimeoutExpired:
            _say(f"The {self.name} process does not stop; it is ended.")
            self.process.kill()
            self.process.wait()

    def _close_pipe(self) -> None:
        if self.process is not None and self.process.stdin is not None:
            self.process.stdin.close()


def supervise(settings: Settings) -> int:
    """Run web and worker until told to stop; with a broker, the web alone.

    Returns:
        0 after a stop, 3 when this machine is not ready (one line says why).
    """
    try:
        _look_before(settings)
    except SetupError as error:
        _say(error.detail)
        return NOT_READY
    children = _children(settings)
    with _signals() as stop:
        for child in children:
            child.start()
        threading.Thread(target=_announce, args=(settings, stop), daemon=True).start()
        code = _watch(children, stop)
        for child in children:
            child.ask_to_stop()
        for child in children:
            child.wait()
    return code


def _look_before(settings: Settings) -> None:
    """Find out what would not work before anything is started.

    Raises:
        SetupError: What is wrong, in one line.
    """
    require_loopback(settings)
    open_storage(settings).check()
    listen(settings).close()


def _children(settings: Settings) -> list[Child]:
    environment = {**os.environ, **settings.to_env()}
    web = Child(
        name="web", module="service.web", patience_s=WEB_PATIENCE_S, environment=environment
    )
    if not settings.one_machine:
        return [web]
    worker = Child(
        name="worker",
        module="worker.queue.run",
        patience_s=WORKER_PATIENCE_S,
        environment=environment,
    )
    return [web, worker]


def _watch(children: list[Child], stop: threading.Event) -> int:
    """Start again whoever ends; give up when the machine is not ready any more."""
    while not stop.wait(LOOK_EVERY_S):
        for child in children:
            code = child.ended()
            if code in NOT_READY_CODES:
                # It has said why itself.
                return NOT_READY
            if code is not None or child.process is None:
                child.again()
    return 0


@contextmanager
def _signals() -> Iterator[threading.Event]:
    """An event that SIGTERM and Ctrl-C set, for as long as the block runs."""
    stop = threading.Event()

    def heard(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    names = [name for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), heard) for name in names}
    try:
        yield stop
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


def address(settings: Settings) -> str:
    """Where a browser finds the service."""
    host = settings.host.strip("[]")
    return f"http://{f'[{host}]' if ':' in host else host}:{settings.port}"


def _announce(settings: Settings, stop: threading.Event) -> None:
    """Say where the service is once it answers."""
    while not answers(settings):
        if stop.wait(LOOK_EVERY_S):
            return
    sys.stdout.write(f"Ricalco is at {address(settings)}\n")
    sys.stdout.flush()


def answers(settings: Settings) -> bool:
    """Whether a service answers there now; asked once."""
    connection = HTTPConnection(settings.host.strip("[]"), settings.port, timeout=2)
    try:
        connection.request("GET", "/healthz")
        return connection.getresponse().status == HTTPStatus.OK
    except (OSError, HTTPException):
        return False
    finally:
        connection.close()


def _say(line: str) -> None:
    sys.stderr.write(f"{line}\n")
    sys.stderr.flush()


def main() -> int:
    """Supervise with the settings of the environment."""
    try:
        return supervise(Settings.from_env())
    except SetupError as error:
        _say(error.detail)
        return NOT_READY


if __name__ == "__main__":
    sys.exit(main())
