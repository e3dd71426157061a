"""The heartbeat of one pack that is being made, and the one way to stop its making.

A thread runs while the pack is made. It renews the lease, writes the progress, and learns
whether the owner cancelled, the lease was lost, the time is up or the worker ends; what makes the
pack checks `stopped` between pieces. This works on every pool and every system; signals and
Celery's own limits do not.
"""

from __future__ import annotations

import logging
import os
import threading
import time
from contextvars import copy_context
from enum import Enum
from functools import partial
from types import TracebackType
from typing import Self

from worker.errors import LedgerUnavailable, RicalcoError, StorageFull, TooSlow
from worker.jobs.clocks import AwakeClock, Moment
from worker.jobs.draining import Draining
from worker.jobs.parent_watch import EXIT_KILLED
from worker.settings import Settings
from worker.store.ledger import Claim, HeartbeatReply, Ledger, Step
from worker.store.metrics.counts import Counts
from worker.store.metrics.families import FAILURES, STEP_SECONDS

_LOG = logging.getLogger(__name__)
#: Progress is written, and a cancellation noticed, this often.
TICK_S = 0.2
#: A longer time between two ticks counts as this much, since then the machine slept; a tick
#: that waits for a locked ledger takes less.
MAX_PAUSE_S = 15.0


class StopReason(Enum):
    """Why making the pack must stop."""

    CANCELLED = "cancelled"
    LOST = "lost"
    TOO_SLOW = "too-slow"
    HANDED_BACK = "handed-back"


class Heartbeat:
    """Renews a lease as long as the context lasts.

    Args:
        ledger: Where the lease is kept.
        claim: The pack and the lease on it.
        settings: Duration of the lease, and time limits.
        counts: Where the steps' times are counted.
        draining: Whether the worker is to end.

    Attributes:
        stop_reason: Why making the pack must stop; None: it may go on.
    """

    def __init__(
        self,
        ledger: Ledger,
        claim: Claim,
        settings: Settings,
        draining: Draining,
        counts: Counts | None = None,
    ) -> None:
        self.stop_reason: StopReason | None = None
        self._ledger = ledger
        self._claim = claim
        self._settings = settings
        self._counts = counts or Counts()
        self._step_began_s = time.perf_counter()
        self._draining = draining
        self._step: Step | None = None
        self._written: Step | None = None
        self._awake = AwakeClock(MAX_PAUSE_S)
        self._renewed_at, self._renewed_awake_s = Moment.now(), 0.0
        self._over = threading.Event()
        # In a copy of this thread's context, so that its lines say which pack it is.
        run = partial(copy_context().run, self._run)
        self._thread = threading.Thread(target=run, name="heartbeat", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        self._thread.join()
        self._count_step()

    def progress(self, done: int, total: int, step: str) -> None:
        """Report the progress; cheap enough to be called for every piece."""
        if self._step is None or self._step.step != step:
            self._count_step()
        self._step = Step(done=done, total=total, step=step)

    def _count_step(self) -> None:
        """Count the time of the step that ends."""
        now = time.perf_counter()
        if self._step is not None:
            self._counts.observe(STEP_SECONDS, self._step.step, seconds=now - self._step_began_s)
        self._step_began_s = now

    def stopped(self) -> bool:
        """Whether making the pack must stop now."""
        return self.stop_reason is not None

    def too_slow(self) -> TooSlow:
        """The error of a pack whose time is up."""
        return TooSlow(
            f"Making took longer than {self._settings.soft_limit_seconds} s and was stopped. "
            "Ask for a smaller picture or a lower resolution."
        )

    def _run(self) -> None:
        while not self._over.wait(TICK_S):
            try:
                self._tick()
            except LedgerUnavailable as error:
                _LOG.warning("No heartbeat for %s: %s", self._claim.pack.id, error)
                if self._awake.read() - self._renewed_awake_s > self._settings.lease_seconds:
                    self.stop_reason = StopReason.LOST
            except RicalcoError as error:
                _LOG.warning("No heartbeat for %s: %s", self._claim.pack.id, error)
            except Exception:  # noqa: BLE001 - without this thread nothing ends a pack that hangs
                _LOG.exception("No heartbeat for %s.", self._claim.pack.id)

    def _tick(self) -> None:
        """Check the time limits, then renew the lease or check it."""
        awake_s = self._awake.read()
        if awake_s > self._settings.hard_limit_seconds:
            self._end()
            return
        if self.stop_reason is None and awake_s > self._settings.soft_limit_seconds:
            self.stop_reason = StopReason.TOO_SLOW
        if self.stop_reason is None and self._draining.over:
            self.stop_reason = StopReason.HANDED_BACK
        reply = self._renew(awake_s)
        if reply is HeartbeatReply.LOST:
            self.stop_reason = StopReason.LOST
        elif reply is HeartbeatReply.CANCEL and self.stop_reason is None:
            self.stop_reason = StopReason.CANCELLED

    def _renew(self, awake_s: float) -> HeartbeatReply:
        """Write when the progress changed or the lease must be renewed; else only read.

        After a sleep the lease is renewed at once. Even if it ran out meanwhile it is renewed,
        as long as no other process has taken the pack.
        """
        step, now = self._step, Moment.now()
        if step == self._written and self._renewed_at.age_s() < self._settings.lease_seconds / 3:
            return self._ledger.check_lease(self._claim)
        try:
            reply = self._ledger.heartbeat(self._claim, step)
        except StorageFull as error:
            # Cancelling and a lost lease can be read on a full disk too.
            _LOG.warning("No heartbeat for %s: %s", self._claim.pack.id, error)
            return self._ledger.check_lease(self._claim)
        self._renewed_at, self._renewed_awake_s, self._written = now, awake_s, step
        return reply

    def _end(self) -> None:
        """Write into the row that making the pack hangs, then end this process.

        In a pool of processes that ends one child, and the pool starts another. In a pool of
        threads, which cannot be killed, it ends the worker, and its supervisor starts it again;
        the other packs that it made are begun again when their leases run out. Celery's own
        limit comes later, for a hang in which this thread does not run.
        """
        error = self.too_slow()
        try:
            self._ledger.fail(self._claim, error.code, error.detail)
            self._counts.add(FAILURES, error.code)
        finally:
            # Also when the ledger cannot be reached: then the lease runs out.
            _LOG.error("Pack %s hung beyond the hard limit.", self._claim.pack.id)
            logging.shutdown()
            os._exit(EXIT_KILLED)
