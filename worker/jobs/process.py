"""The worker process: `python -m worker.jobs.process`.

One process runs Celery's worker with a pool that makes packs. Beside it run the sweeper's
thread and, on one machine, the thread that watches the ledger. After SIGTERM, Ctrl-C or the end
of standard input (with `--watch-parent`) it begins no pack, finishes those that it is making or
hands them back (`worker.jobs.draining`), then ends.
"""

from __future__ import annotations

import gc
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

from worker.errors import RicalcoError, StorageFull, StorageUnavailable
from worker.jobs import parent_watch
from worker.jobs.celery_app import make_app, register_tasks
from worker.jobs.draining import Draining
from worker.jobs.metrics_endpoint import show_metrics
from worker.jobs.pack_from_plan import make_from_plan
from worker.jobs.pack_job import PackMaker, PackWorker
from worker.jobs.upkeep.sweeper import Sweeper, WorkerResources
from worker.jobs.upkeep.takeover import take_over
from worker.jobs.wakeup import LedgerWatch, WakeupSender, WorkerSlots
from worker.log_lines import log_to_stderr
from worker.settings import Settings
from worker.store.disk_room import has_room
from worker.store.files import open_storage
from worker.store.files.privacy import close_to_others
from worker.store.ledger import open_ledger
from worker.store.metrics.counts import Counts

_LOG = logging.getLogger(__name__)
#: sysexits.h: a setting is wrong.
EXIT_SETUP = 78
#: Seconds that one Python thread runs while others wait; the default is ten times as long. Threads
#: that make a pack each come back for the interpreter's lock after every operation on an array.
SWITCH_S = 0.0005


def run(
    settings: Settings, *, watch_parent: bool = False, maker: PackMaker = make_from_plan
) -> int:
    """Make packs until the process is asked to stop.

    Args:
        settings: Of this worker.
        watch_parent: End when standard input closes.
        maker: How a pack's files are made.

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
        resources.ledger.fill_reserve()
    except (StorageFull, StorageUnavailable) as error:
        # The worker starts all the same: it deletes, and makes packs once there is room.
        _LOG.error("%s", error)
    lock = take_over(resources) if settings.one_machine else None
    draining = Draining()
    worker = PackWorker(settings, resources.holder, maker, draining, resources.counts)
    register_tasks(app, worker.make_next)
    handlers = _connect(resources, draining)
    if watch_parent:
        parent_watch.when_input_closes(_stop_warm)
    try:
        return _work(app, settings, "prefork" if _forks() else "threads")
    finally:
        resources.stop.set()
        _say_goodbye(resources)
        del handlers
        if lock is not None:
            lock.release()


def _say_goodbye(resources: WorkerResources) -> None:
    """Have the service know that this worker has ended; where that fails, its row does so."""
    if resources.settings.one_machine:
        return
    try:
        resources.ledger.workers.gone(resources.holder)
    except RicalcoError as error:
        _LOG.warning("The ledger does not know that this worker ends: %s", error)


def main(arguments: list[str] | None = None) -> int:
    """Run with the settings of the environment; an error of set-up prints one line."""
    arguments = sys.argv[1:] if arguments is None else arguments
    sys.setswitchinterval(SWITCH_S)
    # What is loaded stays loaded: looking through it for what is not needed any more took 40 ms of
    # every third picture, and processes that are forked share its memory as long as nobody does.
    gc.collect()
    gc.freeze()
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
        counts=Counts(settings.metrics_folder),
    )


def _forks() -> bool:
    """Whether Celery's pool of processes works here, which is on Linux.

    macOS has fork, but its own libraries fail in the child.
    """
    return sys.platform.startswith("linux")


def _connect(resources: WorkerResources, draining: Draining) -> tuple[Any, ...]:
    """Have our threads start and stop with the worker, and its packs drain.

    Returns:
        The handlers. Celery holds weak references to them, so the caller must keep them.
    """

    def ready(**_: object) -> None:
        Sweeper(resources).start()
        show_metrics(resources.settings)
        if resources.settings.one_machine:
            slots = WorkerSlots(
                count=resources.settings.workers,
                busy=lambda: len(state.reserved_requests),
                room=lambda: has_room(resources.ledger, resources.storage),
            )
            LedgerWatch(resources.ledger, resources.wakeups, slots, resources.stop).start()

    def stopping(**_: object) -> None:
        draining.begin()
        resources.stop.set()
        parent_watch.end_within()
        if resources.settings.one_machine:
            # This may run inside a signal handler, which must not wait for a lock.
            threading.Thread(target=resources.wakeups.hasten_shutdown, daemon=True).start()

    def set_up_log(**_: object) -> None:
        # Whoever connects to this signal sets up the log in Celery's place.
        _log_lines(resources.settings.log_level)

    def child(**_: object) -> None:
        parent_watch.end_with_parent()

    signals.setup_logging.connect(set_up_log)
    signals.worker_ready.connect(ready)
    signals.worker_shutting_down.connect(stopping)
    signals.worker_process_init.connect(child)
    return ready, stopping, child, set_up_log


def _log_lines(level: str) -> None:
    """Log as all programs do, and no line for each task; packs are logged instead."""
    log_to_stderr(level)
    for name in ("celery.worker.strategy", "celery.app.trace"):
        logging.getLogger(name).setLevel(logging.WARNING)


def _work(app: Celery, settings: Settings, pool: str) -> int:
    with warnings.catch_warnings():
        # Celery warns of running as root because of pickled messages; here they are JSON.
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
    """Do without a signal what Celery's own handler of SIGTERM does."""
    signals.worker_shutting_down.send(sender="ricalco", sig="", how="Warm", exitcode=exit_code)
    state.should_stop = exit_code


if __name__ == "__main__":
    sys.exit(main())
