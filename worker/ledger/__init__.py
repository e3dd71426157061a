"""The ledger: who asked for what, who makes it, what became of it.

The job row is the truth and the queue only a hint: whatever dies, every accepted pack
ends as ready or as a failure that says why.
"""

from worker.ledger.claims import Step
from worker.ledger.ledger import Ledger, open_ledger
from worker.ledger.rows import (
    ENDED,
    LOCAL_OWNER,
    PACK_STATES,
    Beat,
    Claim,
    Ended,
    Fresh,
    Gauges,
    Json,
    KeepAnswer,
    Made,
    NewPack,
    PackRow,
    PackState,
    ReferenceRow,
    Replay,
    SweepReport,
    new_id,
)

__all__ = [
    "ENDED",
    "LOCAL_OWNER",
    "PACK_STATES",
    "Beat",
    "Claim",
    "Ended",
    "Fresh",
    "Gauges",
    "Json",
    "KeepAnswer",
    "Ledger",
    "Made",
    "NewPack",
    "PackRow",
    "PackState",
    "ReferenceRow",
    "Replay",
    "Step",
    "SweepReport",
    "new_id",
    "open_ledger",
]
