"""What a fault run needs to know of an arrangement, and of each fault in it."""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import NamedTuple

from worker.store.files import Storage
from worker.store.ledger import Ledger

#: How long a silent worker keeps a pack in these runs. A service's default is 30 s, and what
#: depends on it takes so much longer there.
LEASE_S = 4


class Fault(NamedTuple):
    """One thing that goes wrong.

    Attributes:
        name: As the table has it.
        hold_s: How long it lasts, for faults that last.
        happens: Begins it, and ends it at the end of the context.
        cheap: It is over soon, and belongs to the short run of the tests.
    """

    name: str
    hold_s: float
    happens: Callable[[random.Random], AbstractContextManager[None]]
    cheap: bool = False


@dataclass(frozen=True, kw_only=True)
class Place:
    """An arrangement that runs.

    Attributes:
        name: As the table has it.
        url: Where the service answers.
        ledger, storage: Direct ones, which no fault but the server's own concerns.
        attempts: How often a pack may be begun.
        support_mm: How large its packs are to be.
        faults: What can happen here.
        left_out: What cannot, and why.
        logs: What its programs have written so far.
        close: Ends all of it.
    """

    name: str
    url: str
    ledger: Ledger
    storage: Storage
    attempts: int
    support_mm: tuple[int, int]
    faults: list[Fault]
    logs: Callable[[], str]
    close: Callable[[], None]
    left_out: list[str] = field(default_factory=list)
