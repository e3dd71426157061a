"""One command that starts web and worker, watches both, and stops both."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http import HTTPStatus
from http.client import HTTPConnection, HTTPException
from types import FrameType

from service.http.requests.host_guard import require_tutor
from service.http.requests.lan_addresses import lan_address
from service.serving.listening import NOT_READY, listen
from service.supervisor.child import Child, say
from worker.errors import SetupError, StorageFull
from worker.settings import Settings
from worker.store.files import open_storage

#: How long the processes may take to stop: a worker may finish the pack that it is making.
WEB_PATIENCE_S, WORKER_PATIENCE_S = 15.0, 60.0
LOOK_EVERY_S = 0.1
#: The C library of most Linux systems gives each thread a heap and does not return its memory:
#: after two minutes of photos, previews and sheets the web's many threads held 640 MB, and that
#: grew. With two heaps it stayed at 260 MB, and plans were as fast. A mural's lines are found by
#: several threads too, and took a tenth less time.
FEW_HEAPS = {"MALLOC_ARENA_MAX": "2"}
#: Exit codes after which a restart would not help; 78 is EX_CONFIG of sysexits.h.
NOT_READY_CODES = frozenset({NOT_READY, 78})

#: Addresses that mean all of this machine's, each with its loopback address.
_ANYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}  # noqa: S104


def supervise(settings: Settings) -> int:
    """Run web and worker until asked to stop; with a broker, the web alone.

    Returns:
        0 after a stop, 3 when this machine is not ready (one line says why).
    """
    try:
        _check_before_start(settings)
    except SetupError as error:
        say(error.detail)
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


def _check_before_start(settings: Settings) -> None:
    """Check settings, storage and port before a process is started.

    Raises:
        SetupError: What is wrong, in one line.
    """
    require_tutor(settings)
    try:
        open_storage(settings).check()
    except StorageFull as error:
        # Start all the same: photos and packs are deleted through the service.
        say(error.detail)
    listen(settings).close()


def _children(settings: Settings) -> list[Child]:
    environment = {**FEW_HEAPS, **os.environ, **settings.to_env()}
    web = Child(
        name="web", module="service.web", patience_s=WEB_PATIENCE_S, environment=environment
    )
    if not settings.one_machine:
        return [web]
    worker = Child(
        name="worker",
        module="worker.jobs.process",
        patience_s=WORKER_PATIENCE_S,
        environment=environment,
    )
    return [web, worker]


def _watch(children: list[Child], stop: threading.Event) -> int:
    """Restart children that end; stop when one says that the machine is not ready."""
    while not stop.wait(LOOK_EVERY_S):
        for child in children:
            code = child.ended()
            if code in NOT_READY_CODES:
                # The child has written the reason itself.
                return NOT_READY
            if code is not None or child.process is None:
                child.again()
    return 0


@contextmanager
def _signals() -> Iterator[threading.Event]:
    """An event that SIGTERM and Ctrl-C set while the block runs."""
    stop = threading.Event()

    def on_signal(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    names = [name for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), on_signal) for name in names}
    try:
        yield stop
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


def address(settings: Settings) -> str:
    """The address of the service for a browser."""
    host = settings.host.strip("[]")
    if host in _ANYWHERE:
        host = lan_address() or "127.0.0.1"
    return f"http://{f'[{host}]' if ':' in host else host}:{settings.port}"


def _announce(settings: Settings, stop: threading.Event) -> None:
    """Write the address to standard output once the service answers."""
    while not answers(settings):
        if stop.wait(LOOK_EVERY_S):
            return
    sys.stdout.write(f"Ricalco is at {address(settings)}\n")
    sys.stdout.flush()


def answers(settings: Settings) -> bool:
    """Whether the service answers now; one request is sent."""
    host = settings.host.strip("[]")
    # Not every system can connect to the unspecified address.
    near = _ANYWHERE.get(host, host)
    connection = HTTPConnection(near, settings.port, timeout=2)
    try:
        connection.request("GET", "/healthz")
        return connection.getresponse().status == HTTPStatus.OK
    except (OSError, HTTPException):
        return False
    finally:
        connection.close()


def main() -> int:
    """Supervise with the settings of the environment."""
    try:
        return supervise(Settings.from_env())
    except SetupError as error:
        say(error.detail)
        return NOT_READY


if __name__ == "__main__":
    sys.exit(main())
