"""The queue: who makes the next pack, and when. The ledger's rows are the truth.

`app` the Celery app, `wakeups` what wakes a worker, `tasks` the one task, `job` one pack
from claim to finish, `heartbeat` its heartbeat, `maker` how it is made, `watcher` wakes the
worker of one machine, `sweeper` mends what died, `run` the worker process.
"""

from __future__ import annotations

from worker.settings import Settings


def wake(settings: Settings) -> None:
    """Tell a worker that there is work; call it after the commit.

    On one machine the worker sees the commit itself and nothing is done. With a broker a
    message is sent, and a broker that is away is only logged. Takes at most some seconds.
    """
    if settings.one_machine:
        return
    # A service on one machine never loads Celery.
    from worker.jobs.wakeup import sender_for  # noqa: PLC0415

    sender_for(settings).send()
