"""The heartbeat of one pack that is being made, and the only way to be told to stop.

A thread beats while the making goes on. It renews the lease, writes how far it is, and
hears whether the owner cancelled, the lease was lost or time is up; the making looks at
`stopped` between pieces. That works on every pool and every system, where signals and
Celery's limits do not.
"""

from __future__ import annotations

import logging
import os
import threading
from enum import Enum
from types import TracebackType
from typing import Self

from worker.errors import LedgerUnavailable, RicalcoError, TooSlow
from worker.jobs.clocks import AwakeClock, Moment
from worker.jobs.parent_watch import EXIT_KILLED
from worker.settings import Settings
from worker.store.ledger import Claim, HeartbeatReply, Ledger, Step

_LOG = logging.getLogger(__name__)
#: Progress is written, and cancelling heard, this often.
TICK_S = 0.2
#: A longer time between two ticks counts as so much, since it is the machine's sleep; a tick
#: that waits for a locked ledger takes less.
MAX_PAUSE_S = 15.0


class StopReason(Enum):
    """Why the making must stop."""

    CANCELLED = "cancelled"
    LOST = "lost"
    TOO_SLOW = "too-slow"


class Heartbeat:
    """Beats as long as the context lasts.

    Args:
        ledger, claim: What is held.
        settings: Lease and time limits.
    """

    def __init__(self, ledger: Ledger, claim: Claim, settings: Settings) -> None:
        self.stop_reason: StopReason | None = None
        self._ledger = ledger
        self._claim = claim
        self._settings = settings
        self._step: Step | None = None
        self._written: Step | None = None
        self._awake = AwakeClock(MAX_PAUSE_S)
        self._beaten, self._beaten_awake_s = Moment.now(), 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

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

    def progress(self, done: int, total: int, step: str) -> None:
        """Say how far it is; cheap enough for every piece."""
        self._step = Step(done=done, total=total, step=step)

    def stopped(self) -> bool:
        """The making must stop now."""
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
                if self._awake.look() - self._beaten_awake_s > self._settings.lease_seconds:
                    self.stop_reason = StopReason.LOST
            except RicalcoError as error:
                _LOG.warning("No heartbeat for %s: %s", self._claim.pack.id, error)
            except Exception:  # noqa: BLE001 - without a heart nobody would end a making that hangs
                _LOG.exception("No heartbeat for %s.", self._claim.pack.id)

    def _tick(self) -> None:
        """One look at the clock and the ledger."""
        awake_s = self._awake.look()
        if awake_s > self._settings.hard_limit_seconds:
            self._end()
            return
        if self.stop_reason is None and awake_s > self._settings.soft_limit_seconds:
            self.stop_reason = StopReason.TOO_SLOW
        heard = self._beat(awake_s)
        if heard is HeartbeatReply.LOST:
            self.stop_reason = StopReason.LOST
        elif heard is HeartbeatReply.CANCEL and self.stop_reason is None:
            self.stop_reason = StopReason.CANCELLED

    def _beat(self, awake_s: float) -> HeartbeatReply:
        """Write when there is news or the lease asks for it, else only look.

        After a sleep the lease asks at once. It may have run out meanwhile: as long as nobody
        else has taken the pack, it is renewed all the same.
        """
        step, now = self._step, Moment.now()
        if step == self._written and self._beaten.age_s() < self._settings.lease_seconds / 3:
            return self._ledger.look(self._claim)
        heard = self._ledger.heartbeat(self._claim, step)
        self._beaten, self._beaten_awake_s, self._written = now, awake_s, step
        return heard

    def _end(self) -> None:
        """The making hangs: say so in the row, then end this process.

        On a pool of processes that is one maker, and the pool starts another; on a pool
        of threads, which nothing can kill, it is the worker, and its supervisor starts it
        again. Either way leases save what else was being made. Celery's own limit comes
        later, for a hang that does not let this thread run.
        """
        error = self.too_slow()
        try:
            self._ledger.fail(self._claim, error.code, error.detail)
        finally:
            # Also when the ledger is away: then the lease runs out.
            _LOG.error("Pack %s hung beyond the hard limit.", self._claim.pack.id)
            logging.shutdown()
            os._exit(EXIT_KILLED)
