"""The ledger, a database: people, classes, references, packs and the leases on them.

A pack's row decides, and messages in the queue are only hints. Whatever process dies, every
accepted pack ends as ready, or as failed with a reason.
"""

from worker.store.ledger.idempotency import KEY_HOLD_S
from worker.store.ledger.keyset import Page, Place
from worker.store.ledger.ledger import Ledger, open_ledger
from worker.store.ledger.packs.batches import Batch, BatchItem, BatchProgress, NewItem, PackSummary
from worker.store.ledger.packs.claims import Step
from worker.store.ledger.packs.links import MOST_LINKS, LinkRow
from worker.store.ledger.packs.packs import FILES_MISSING, Mark
from worker.store.ledger.people.classes import NewClass
from worker.store.ledger.people.credentials import read_code, shown_code
from worker.store.ledger.people.holdings import Holding
from worker.store.ledger.people.name_matching import alike, same_name
from worker.store.ledger.people.records import (
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
from worker.store.ledger.records import (
    FINAL_STATES,
    LOCAL_OWNER,
    PACK_STATES,
    Bounds,
    Claim,
    EndedPack,
    FreedPacks,
    Gauges,
    HeartbeatReply,
    HeldKey,
    IdempotentAnswer,
    Json,
    NewPack,
    PackProgress,
    PackResult,
    PackRow,
    PackState,
    PrinterRow,
    ReferenceRow,
    Replay,
    new_id,
)

__all__ = [
    "DAY_S",
    "FILES_MISSING",
    "FINAL_STATES",
    "KEEP_DAYS",
    "KEY_HOLD_S",
    "LOCAL_OWNER",
    "MOST_LINKS",
    "PACK_STATES",
    "ROLES",
    "AccessKey",
    "Batch",
    "BatchItem",
    "BatchItemRow",
    "BatchProgress",
    "BatchRow",
    "Bounds",
    "Claim",
    "ClassRow",
    "ClassSettings",
    "EndedPack",
    "FreedPacks",
    "Gauges",
    "HeartbeatReply",
    "HeldKey",
    "Holding",
    "IdempotentAnswer",
    "IssuedKey",
    "Json",
    "Ledger",
    "LinkRow",
    "Mark",
    "NewClass",
    "NewItem",
    "NewPack",
    "PackProgress",
    "PackResult",
    "PackRow",
    "PackState",
    "PackSummary",
    "Page",
    "Person",
    "Place",
    "PrinterRow",
    "ReferenceRow",
    "Replay",
    "Role",
    "Step",
    "StudentRow",
    "Usage",
    "alike",
    "new_id",
    "open_ledger",
    "read_code",
    "same_name",
    "shown_code",
]
