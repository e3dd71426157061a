"""The process that makes packs for the service. The ledger's rows are the truth.

`process` starts it, `celery_app` is its queue and `wakeup` what starts a task in it.
`pack_job` takes one pack from claim to finish, `heartbeat` keeps its lease, `pack_from_plan`
makes its files, and `upkeep` repairs what died and deletes what has expired.
"""

from __future__ import annotations

from worker.settings import Settings


def check_broker(settings: Settings) -> None:
    """Raise BrokerUnavailable unless the broker answers; on one machine there is none."""
    if settings.one_machine:
        return
    from worker.jobs.wakeup import sender_for  # noqa: PLC0415

    sender_for(settings).check()


def wake(settings: Settings) -> None:
    """Send a message that there is work; call it after the commit.

    On one machine this does nothing, since the worker sees the commit itself. With a broker a
    message is sent; if the broker cannot be reached, that is only logged. Takes some seconds
    at most.
    """
    if settings.one_machine:
        return
    # A service on one machine never loads Celery.
    from worker.jobs.wakeup import sender_for  # noqa: PLC0415

    sender_for(settings).send()
