"""The worker process: `python -m worker.jobs.process`.

One process supervises a pool of makers; beside it run the sweeper and, on one machine,
the watcher. SIGTERM, Ctrl-C or the end of standard input (with `--watch-parent`) let it
finish what it is making and then end it.
"""

from __future__ import annotations

import logging
import os
import secrets
import socket
import sys
import threading
import warnings
from typing import Any

from celery import Celery, signals
from celery.platforms import SecurityWarning
from celery.worker import state

from worker.errors import RicalcoError, StorageFull
from worker.jobs import parent_watch
from worker.jobs.celery_app import make_app
from worker.jobs.disk_room import has_room
from worker.jobs.ledger_watch import Slots, Watcher
from worker.jobs.pack_job import Workshop
from worker.jobs.pack_maker import Maker
from worker.jobs.real_maker import make_real
from worker.jobs.tasks import register
from worker.jobs.upkeep.sweeper import Sweeper, Tools
from worker.jobs.upkeep.takeover import take_over
from worker.jobs.wakeup import Bell
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.files.privacy import close_to_others
from worker.store.ledger import open_ledger

_LOG = logging.getLogger(__name__)
#: sysexits.h: a setting is wrong.
EXIT_SETUP = 78


def run(settings: Settings, *, watch_parent: bool = False, maker: Maker = make_real) -> int:
    """Work until told to stop.

    Args:
        settings: As ever.
        watch_parent: End when standard input closes.
        maker: How packs are made.

    Returns:
        The exit code, 0 after an orderly end.

    Raises:
        SetupError: Ledger or storage cannot be used.
    """
    app = make_app(settings)
    tools = _tools(settings, app)
    tools.ledger.migrate()
    close_to_others(settings.data_dir)
    tools.storage.close_to_others()
    try:
        tools.storage.check()
        tools.ledger.keep_reserve()
    except StorageFull as error:
        # It goes on: what is there can be deleted, and packs are made once there is room.
        _LOG.error("%s", error)
    lock = take_over(tools) if settings.one_machine else None
    register(app, Workshop(settings, tools.holder, maker))
    handlers = _connect(tools)
    if watch_parent:
        parent_watch.when_input_closes(_stop_softly)
    try:
        return _work(app, settings, "prefork" if _forks() else "threads")
    finally:
        tools.stop.set()
        del handlers
        if lock is not None:
            lock.release()


def main(arguments: list[str] | None = None) -> int:
    """Run with the settings of the environment; errors of set-up take one line."""
    arguments = sys.argv[1:] if arguments is None else arguments
    try:
        return run(Settings.from_env(), watch_parent="--watch-parent" in arguments)
    except RicalcoError as error:
        sys.stderr.write(f"{error.detail}\n")
        return EXIT_SETUP


def _tools(settings: Settings, app: Celery) -> Tools:
    name = f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"
    return Tools(
        settings=settings,
        holder=name,
        ledger=open_ledger(settings),
        storage=open_storage(settings),
        bell=Bell(app),
        stop=threading.Event(),
        restart=lambda: _stop_softly(parent_watch.EXIT_KILLED),
    )


def _forks() -> bool:
    """Celery's pool of processes is sound where the system forks and means it.

    macOS has fork, but its own libraries do not survive it.
    """
    return sys.platform.startswith("linux")


def _connect(tools: Tools) -> tuple[Any, ...]:
    """Have our threads start and stop with the worker.

    Returns:
        The handlers: Celery holds them weakly, so the caller must not.
    """

    def ready(**_: object) -> None:
        Sweeper(tools).start()
        if tools.settings.one_machine:
            slots = Slots(
                count=tools.settings.workers,
                busy=lambda: len(state.reserved_requests),
                room=lambda: has_room(tools.ledger, tools.storage),
            )
            Watcher(tools.ledger, tools.bell, slots, tools.stop).start()

    def stopping(**_: object) -> None:
        tools.stop.set()
        parent_watch.end_within()
        if tools.settings.one_machine:
            # This may run inside a signal handler, which must not wait for the queue.
            threading.Thread(target=tools.bell.hasten, daemon=True).start()

    def child(**_: object) -> None:
        parent_watch.end_with_parent()

    signals.after_setup_logger.connect(_quieten)
    signals.worker_ready.connect(ready)
    signals.worker_shutting_down.connect(stopping)
    signals.worker_process_init.connect(child)
    return ready, stopping, child


def _quieten(**_: object) -> None:
    """Tasks come and go without a word; what is told of is packs."""
    for name in ("celery.worker.strategy", "celery.app.trace"):
        logging.getLogger(name).setLevel(logging.WARNING)


def _work(app: Celery, settings: Settings, pool: str) -> int:
    with warnings.catch_warnings():
        # Running as root is warned of because of pickled messages; here they are JSON.
        warnings.simplefilter("ignore", SecurityWarning)
        worker = app.Worker(
            hostname=f"ricalco-{os.getpid()}@{socket.gethostname()}",
            pool_cls=pool,
            concurrency=settings.workers,
            loglevel=settings.log_level,
            quiet=True,
            without_gossip=True,
            without_mingle=True,
            without_heartbeat=True,
        )
        worker.start()
    return int(worker.exitcode or 0)


def _stop_softly(exit_code: int = 0) -> None:
    """What Celery's own handler of SIGTERM does, without a signal."""
    signals.worker_shutting_down.send(sender="ricalco", sig="", how="Warm", exitcode=exit_code)
    state.should_stop = exit_code


if __name__ == "__main__":
    sys.exit(main())
