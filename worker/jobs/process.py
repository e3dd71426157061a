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
from worker.jobs.ledger_watch import Watcher, WorkerSlots
from worker.jobs.pack_job import PackWorker
from worker.jobs.pack_maker import PackMaker
from worker.jobs.real_maker import make_from_plan
from worker.jobs.tasks import register
from worker.jobs.upkeep.sweeper import Sweeper, WorkerResources
from worker.jobs.upkeep.takeover import take_over
from worker.jobs.wakeup import WakeupSender
from worker.settings import Settings
from worker.store.files import open_storage
from worker.store.files.privacy import close_to_others
from worker.store.ledger import open_ledger

_LOG = logging.getLogger(__name__)
#: sysexits.h: a setting is wrong.
EXIT_SETUP = 78


def run(
    settings: Settings, *, watch_parent: bool = False, maker: PackMaker = make_from_plan
) -> int:
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
    resources = _resources(settings, app)
    resources.ledger.migrate()
    close_to_others(settings.data_dir)
    resources.storage.close_to_others()
    try:
        resources.storage.check()
        resources.ledger.keep_reserve()
    except StorageFull as error:
        # It goes on: what is there can be deleted, and packs are made once there is room.
        _LOG.error("%s", error)
    lock = take_over(resources) if settings.one_machine else None
    register(app, PackWorker(settings, resources.holder, maker))
    handlers = _connect(resources)
    if watch_parent:
        parent_watch.when_input_closes(_stop_warm)
    try:
        return _work(app, settings, "prefork" if _forks() else "threads")
    finally:
        resources.stop.set()
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


def _resources(settings: Settings, app: Celery) -> WorkerResources:
    name = f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"
    return WorkerResources(
        settings=settings,
        holder=name,
        ledger=open_ledger(settings),
        storage=open_storage(settings),
        wakeups=WakeupSender(app),
        stop=threading.Event(),
        restart=lambda: _stop_warm(parent_watch.EXIT_KILLED),
    )


def _forks() -> bool:
    """Celery's pool of processes is sound where the system forks and means it.

    macOS has fork, but its own libraries do not survive it.
    """
    return sys.platform.startswith("linux")


def _connect(resources: WorkerResources) -> tuple[Any, ...]:
    """Have our threads start and stop with the worker.

    Returns:
        The handlers: Celery holds them weakly, so the caller must not.
    """

    def ready(**_: object) -> None:
        Sweeper(resources).start()
        if resources.settings.one_machine:
            slots = WorkerSlots(
                count=resources.settings.workers,
                busy=lambda: len(state.reserved_requests),
                room=lambda: has_room(resources.ledger, resources.storage),
            )
            Watcher(resources.ledger, resources.wakeups, slots, resources.stop).start()

    def stopping(**_: object) -> None:
        resources.stop.set()
        parent_watch.end_within()
        if resources.settings.one_machine:
            # This may run inside a signal handler, which must not wait for the queue.
            threading.Thread(target=resources.wakeups.hasten_shutdown, daemon=True).start()

    def child(**_: object) -> None:
        parent_watch.end_with_parent()

    signals.after_setup_logger.connect(_quiet_celery_logs)
    signals.worker_ready.connect(ready)
    signals.worker_shutting_down.connect(stopping)
    signals.worker_process_init.connect(child)
    return ready, stopping, child


def _quiet_celery_logs(**_: object) -> None:
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


def _stop_warm(exit_code: int = 0) -> None:
    """What Celery's own handler of SIGTERM does, without a signal."""
    signals.worker_shutting_down.send(sender="ricalco", sig="", how="Warm", exitcode=exit_code)
    state.should_stop = exit_code


if __name__ == "__main__":
    sys.exit(main())
