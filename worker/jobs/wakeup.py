"""Ringing for work: sending messages that say "there is work" and nothing else."""

from __future__ import annotations

import logging
import threading
from functools import cache

from celery import Celery

from worker.jobs.celery_app import DO_NOTHING, MAKE_NEXT, QUEUE, make_publisher
from worker.settings import Settings

_LOG = logging.getLogger(__name__)


class WakeupSender:
    """One app's bell, for several threads."""

    def __init__(self, app: Celery) -> None:
        self._app = app
        self._lock = threading.Lock()

    def send(self, times: int = 1) -> bool:
        """Start `times` tasks; False where the broker is away, which is no disaster.

        The sweeper rings again for packs that wait too long.
        """
        try:
            for _ in range(times):
                self._app.send_task(MAKE_NEXT, queue=QUEUE, retry=False, ignore_result=True)
        except Exception as error:  # noqa: BLE001 - each broker has its own errors
            _LOG.warning("No worker could be woken; the sweeper will try: %s", error)
            return False
        return True

    def hasten_shutdown(self) -> None:
        """Let a worker on one machine end soon.

        Its loop waits two seconds for a message before it looks whether it should stop,
        and two more. So it gets two messages, and those that would begin a pack are taken
        away.
        """
        with self._lock, self._app.connection_for_write() as connection:
            connection.default_channel.queue_purge(QUEUE)
        for _ in range(2):
            self._app.send_task(DO_NOTHING, queue=QUEUE)

    def pending(self) -> int:
        """How many messages wait in the broker; 0 where it is away."""
        try:
            with self._lock, self._app.connection_for_write() as connection:
                told = connection.default_channel.queue_declare(QUEUE, passive=True)
                return int(told.message_count)
        except Exception as error:  # noqa: BLE001 - also a queue nobody has declared yet
            _LOG.debug("The queue's length is not known: %s", error)
            return 0


@cache
def sender_for(settings: Settings) -> WakeupSender:
    """The bell of a process that only rings."""
    return WakeupSender(make_publisher(settings))
