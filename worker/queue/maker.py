"""How one claimed pack is made: the seam between the queue and the making.

The queue knows a `Maker` only; tests bring their own, workers take `make_real`.
"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from worker.errors import NotFound, ReferenceGone
from worker.ledger import Json, PackRow
from worker.queue.pulse import Pulse
from worker.storage import Storage


@dataclass(frozen=True, kw_only=True)
class Order:
    """What a maker is given.

    Attributes:
        pack: The row; its spec is JSON.
        storage: Where the reference's files are.
        folder: Where `pack.pdf` and `map.png` go, and nothing else.
        pulse: Takes progress, and says when to stop.
        threads: How many threads may be used.
    """

    pack: PackRow
    storage: Storage
    folder: Path
    pulse: Pulse
    threads: int


@dataclass(frozen=True, kw_only=True)
class Product:
    """What the ledger is told of a pack that was made."""

    number: str
    plan: Json
    total: int


class Maker(Protocol):
    """Makes one pack, or raises: Cancelled when the pulse stopped it."""

    def __call__(self, order: Order) -> Product:
        """Make what is ordered."""


def load_maker() -> Maker:
    """The real maker, with all that it needs loaded, so that no pack waits for it."""
    # Whoever only rings or sweeps needs no imaging.
    from worker.queue.making import make_real  # noqa: PLC0415

    return make_real


def reference_files(order: Order, stack: ExitStack) -> tuple[Path, Path]:
    """Paths of master and study, as long as `stack` is open.

    Raises:
        ReferenceGone: They are not there any more.
    """
    key = f"references/{order.pack.reference_id}"
    try:
        master = stack.enter_context(order.storage.file(f"{key}/master.zip"))
        study = stack.enter_context(order.storage.file(f"{key}/study.npz"))
    except NotFound as error:
        message = "The reference was deleted before its pack was made: send the photo again."
        raise ReferenceGone(message) from error
    return master, study
