"""A worker that makes real packs slowly, so that faults meet some under way."""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from typing import Any

from worker.jobs import process
from worker.jobs.heartbeat import Heartbeat
from worker.jobs.pack_from_plan import make_from_plan
from worker.jobs.pack_job import MadePack, PackRequest
from worker.settings import Settings

#: What each step of a pack takes on top.
STEP_S = 0.15


class _Slow:
    """A heartbeat that lets the maker wait."""

    def __init__(self, heartbeat: Heartbeat) -> None:
        self._heartbeat = heartbeat
        self.stopped = heartbeat.stopped

    def progress(self, done: int, total: int, step: str) -> None:
        self._heartbeat.progress(done, total, step)
        time.sleep(STEP_S)


def make_slowly(request: PackRequest) -> MadePack:
    """The worker's own maker, with pauses."""
    slow: Any = _Slow(request.heartbeat)
    return make_from_plan(replace(request, heartbeat=slow))


if __name__ == "__main__":
    sys.exit(process.run(Settings.from_env(), maker=make_slowly))
