"""The tasks. Neither carries a job: one makes the next pack, one does nothing."""

from __future__ import annotations

from celery import Celery

from worker.jobs.celery_app import DO_NOTHING, MAKE_NEXT
from worker.jobs.pack_job import PackWorker


def register(app: Celery, pack_worker: PackWorker) -> None:
    """Give the app its tasks, for this workshop."""

    @app.task(name=MAKE_NEXT)  # type: ignore[untyped-decorator]  # Celery has no types
    def make_next() -> None:
        pack_worker.make_next()

    @app.task(name=DO_NOTHING)  # type: ignore[untyped-decorator]  # Celery has no types
    def do_nothing() -> None:
        """Its message alone is wanted: see `WakeupSender.hasten_shutdown`."""
