"""The Celery app and its two tasks. An app is made from settings; none is made at import.

A message carries no job. It only says that there is work, and the task that it starts claims
the row of the ledger that is next in the fair order. Lost, doubled and late messages are
therefore harmless, and the settings below only have to keep things quick.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from celery import Celery

from worker.settings import Settings

QUEUE = "ricalco"
MAKE_NEXT = "ricalco.make_next"
DO_NOTHING = "ricalco.do_nothing"
#: The queue of one machine.
MEMORY = "memory://localhost/"
#: How often the queue in memory is polled on one machine.
POLL_S = 0.02
#: After the hard limit the process that makes the pack ends itself (`worker.jobs.heartbeat`);
#: after this much more it is killed.
KILL_AFTER_S = 5
_GUARDED = "worker.jobs.redis_transport:Transport"


def make_app(settings: Settings) -> Celery:
    """The app for these settings, with no task registered."""
    app = Celery("ricalco", set_as_current=False)
    app.conf.update(_common(settings))
    app.conf.update(_memory() if settings.one_machine else _redis(settings))
    return app


def make_publisher(settings: Settings) -> Celery:
    """The app for the service, which must not hang when the broker cannot be reached."""
    app = make_app(settings)
    one_retry = {"max_retries": 1, "interval_start": 0, "interval_step": 0, "interval_max": 0}
    app.conf.broker_transport_options = app.conf.broker_transport_options | one_retry
    return app


def register_tasks(app: Celery, make_next_pack: Callable[[], object]) -> None:
    """Give the app its tasks: one makes the next pack, one does nothing.

    Args:
        app: The worker process's.
        make_next_pack: `PackWorker.make_next`.
    """

    @app.task(name=MAKE_NEXT)  # type: ignore[untyped-decorator]  # Celery has no types
    def make_next() -> None:
        make_next_pack()

    @app.task(name=DO_NOTHING)  # type: ignore[untyped-decorator]  # Celery has no types
    def do_nothing() -> None:
        """Its message is sent for its own sake: see `WakeupSender.hasten_shutdown`."""


def _common(settings: Settings) -> dict[str, Any]:
    return {
        "task_default_queue": QUEUE,
        "task_ignore_result": True,
        "task_serializer": "json",
        "accept_content": ["json"],
        "task_acks_late": True,
        # The ledger counts the attempts, so a pack that kills its process does not loop.
        "task_reject_on_worker_lost": True,
        "task_time_limit": settings.hard_limit_seconds + KILL_AFTER_S,
        "worker_prefetch_multiplier": 1,
        "worker_enable_remote_control": False,
        "worker_send_task_events": False,
        # A lost connection may cost a message, but never the work that is under way.
        "worker_cancel_long_running_tasks_on_connection_loss": False,
        # Without this a killed child stalls the pool for ten seconds where the
        # transport is not asynchronous.
        "worker_lost_wait": 1,
        "broker_connection_retry_on_startup": True,
        "broker_connection_max_retries": None,
    }


def _memory() -> dict[str, Any]:
    return {
        "broker_url": MEMORY,
        "broker_transport_options": {"polling_interval": POLL_S},
    }


def _redis(settings: Settings) -> dict[str, Any]:
    """Options that lost no pack in tests that killed Redis and workers at random."""
    guarded = settings.broker_url.startswith(("redis:", "rediss:"))
    return {
        "broker_url": settings.broker_url,
        "broker_transport": _GUARDED if guarded else None,
        "broker_transport_options": {
            # Redis does not renew it: a shorter one would start a task that still runs.
            "visibility_timeout": max(300, 2 * settings.hard_limit_seconds),
            "unacked_restore_interval": 5,
            "unacked_restore_throttle": 1,
            "socket_timeout": 30,
            "socket_connect_timeout": 2,
            "socket_keepalive": True,
            "health_check_interval": 25,
        },
    }
