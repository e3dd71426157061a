"""Photos taken in by processes of their own, which may fail without anybody else noticing.

A stranger's file is the one thing here that is read by code in C, and one that is built for it
can keep that busy, make it take memory without end, or worse. So the web process never decodes
one: `pool` hands it to a `process`, which runs `child`; they talk as `wire` says, and
`confinement` is what such a process lays on itself before it looks at anything.
"""

from __future__ import annotations

from worker.reference.isolated.budget import Budget
from worker.reference.isolated.pool import Intake

__all__ = ["Budget", "Intake"]
