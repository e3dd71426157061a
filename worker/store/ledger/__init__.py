"""The ledger: who asked for what, who makes it, what became of it.

The job row is the truth and the queue only a hint: whatever dies, every accepted pack
ends as ready or as a failure that says why.
"""

from worker.store.ledger.idempotency import HELD_S
from worker.store.ledger.ledger import Ledger, open_ledger
from worker.store.ledger.packs.batches import Batch, BatchItem, NewItem, PackGlance
from worker.store.ledger.packs.claims import Step
from worker.store.ledger.packs.packs import FILES_MISSING, Mark
from worker.store.ledger.people.classes import NewClass
from worker.store.ledger.people.holdings import Holding
from worker.store.ledger.people.name_matching import alike, same_name
from worker.store.ledger.people.rows import (
    DAY_S,
    KEEP_DAYS,
    ROLES,
    AccessKey,
    BatchItemRow,
    BatchRow,
    ClassRow,
    ClassSettings,
    IssuedKey,
    Person,
    Role,
    StudentRow,
    Usage,
)
from worker.store.ledger.people.secrets import read_code, shown_code
from worker.store.ledger.rows import (
    ENDED,
    LOCAL_OWNER,
    PACK_STATES,
    Bounds,
    Claim,
    Ended,
    Fresh,
    Gauges,
    HeartbeatReply,
    Json,
    KeepAnswer,
    Made,
    NewPack,
    PackProgress,
    PackRow,
    PackState,
    PrinterRow,
    ReferenceRow,
    Replay,
    SweepReport,
    new_id,
)

__all__ = [
    "DAY_S",
    "ENDED",
    "FILES_MISSING",
    "HELD_S",
    "KEEP_DAYS",
    "LOCAL_OWNER",
    "PACK_STATES",
    "ROLES",
    "AccessKey",
    "Batch",
    "BatchItem",
    "BatchItemRow",
    "BatchRow",
    "Bounds",
    "Claim",
    "ClassRow",
    "ClassSettings",
    "Ended",
    "Fresh",
    "Gauges",
    "HeartbeatReply",
    "Holding",
    "IssuedKey",
    "Json",
    "KeepAnswer",
    "Ledger",
    "Made",
    "Mark",
    "NewClass",
    "NewItem",
    "NewPack",
    "PackGlance",
    "PackProgress",
    "PackRow",
    "PackState",
    "Person",
    "PrinterRow",
    "ReferenceRow",
    "Replay",
    "Role",
    "Step",
    "StudentRow",
    "SweepReport",
    "Usage",
    "alike",
    "new_id",
    "open_ledger",
    "read_code",
    "same_name",
    "shown_code",
]
