"""How one claimed pack is made: the seam between the queue and the making.

The queue knows a `PackMaker` only: the worker process brings `worker.jobs.real_maker`, tests their
own.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from worker.jobs.heartbeat import Heartbeat
from worker.store.files import Storage
from worker.store.ledger import PackRow


@dataclass(frozen=True, kw_only=True)
class PackRequest:
    """What a maker is given.

    Attributes:
        pack: The row; its spec and its plan are JSON.
        storage: Where the reference's files are.
        folder: Where `pack.pdf` and `map.png` go, and nothing else.
        pulse: Takes progress, and says when to stop.
        threads: How many threads may be used.
    """

    pack: PackRow
    storage: Storage
    folder: Path
    heartbeat: Heartbeat
    threads: int


@dataclass(frozen=True, kw_only=True)
class MadePack:
    """What the ledger is told of a pack that was made; its plan stays as it was asked for."""

    number: str
    total: int


class PackMaker(Protocol):
    """Makes one pack, or raises: Cancelled when the pulse stopped it."""

    def __call__(self, request: PackRequest) -> MadePack:
        """Make what is ordered."""
