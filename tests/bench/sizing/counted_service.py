"""`ricalco serve` as it is, with `counted_worker` as its worker."""

from __future__ import annotations

import sys

from client.command import main as command
from service.supervisor import supervise
from service.supervisor.child import Child
from worker.settings import Settings

_WORKER, _COUNTED = "worker.jobs.process", "tests.bench.sizing.counted_worker"
_found = supervise._children


def _children(settings: Settings) -> list[Child]:
    """Those of the supervisor, but for the worker's module."""
    both = _found(settings)
    for one in both:
        if one.module == _WORKER:
            one.module = _COUNTED
    return both


if __name__ == "__main__":
    supervise._children = _children
    sys.argv = ["ricalco", "serve"]
    command.main()
