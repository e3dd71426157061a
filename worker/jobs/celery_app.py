"""The Celery app, made from settings by whoever needs one; there is none at import.

A message carries no job. It says "there is work", and the task it starts claims the
fairest row of the ledger. Lost, doubled and late messages are therefore harmless, and the
settings below only have to keep things quick.
"""

from __future__ import annotations

from typing import Any

from celery import Celery

from worker.settings import Settings

QUEUE = "ricalco"
MAKE_NEXT = "ricalco.make_next"
DO_NOTHING = "ricalco.do_nothing"
#: How often one machine's own queue, in memory, is looked at.
POLL_S = 0.02
#: After the hard limit the maker ends itself (`worker.jobs.heartbeat`); after this much more
#: it is killed.
KILL_AFTER_S = 5
_GUARDED = "worker.jobs.redis_transport:Transport"


def make_app(settings: Settings) -> Celery:
    """The app for these settings, with no task registered."""
    app = Celery("ricalco", set_as_current=False)
    app.conf.update(_common(settings))
    app.conf.update(_memory() if settings.one_machine else _redis(settings))
    return app


def make_publisher(settings: Settings) -> Celery:
    """The app for the service, which must not hang on a broker that is away."""
    app = make_app(settings)
    patience = {"max_retries": 1, "interval_start": 0, "interval_step": 0, "interval_max": 0}
    app.conf.broker_transport_options = app.conf.broker_transport_options | patience
    return app


def _common(settings: Settings) -> dict[str, Any]:
    return {
        "task_default_queue": QUEUE,
        "task_ignore_result": True,
        "task_serializer": "json",
        "accept_content": ["json"],
        "task_acks_late": True,
        # The ledger counts the attempts, so a poisonous pack does not loop.
        "task_reject_on_worker_lost": True,
        "task_time_limit": settings.hard_limit_seconds + KILL_AFTER_S,
        "worker_prefetch_multiplier": 1,
        "worker_enable_remote_control": False,
        "worker_send_task_events": False,
        # A lost connection costs a wake-up, never the work that is under way.
        "worker_cancel_long_running_tasks_on_connection_loss": False,
        # Without this a killed child stalls the pool for ten seconds where the
        # transport is not asynchronous.
        "worker_lost_wait": 1,
        "broker_connection_retry_on_startup": True,
        "broker_connection_max_retries": None,
    }


def _memory() -> dict[str, Any]:
    return {
        "broker_url": "memory://localhost/",
        "broker_transport_options": {"polling_interval": POLL_S},
    }


def _redis(settings: Settings) -> dict[str, Any]:
    """What held when Redis and workers were killed at random."""
    guarded = settings.broker_url.startswith(("redis:", "rediss:"))
    return {
        "broker_url": settings.broker_url,
        "broker_transport": _GUARDED if guarded else None,
        "broker_transport_options": {
            # There is no renewal: a shorter one starts a task that is still running.
            "visibility_timeout": max(300, 2 * settings.hard_limit_seconds),
            "unacked_restore_interval": 5,
            "unacked_restore_throttle": 1,
            "socket_timeout": 30,
            "socket_connect_timeout": 2,
            "socket_keepalive": True,
            "health_check_interval": 25,
        },
    }
