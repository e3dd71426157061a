"""Parameters and results of the ledger as frozen dataclasses; see also `people.records`.

No module outside this folder uses SQLAlchemy. Times are in seconds since 1970 (UTC), as those of
`time.time`.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from typing import Any, Literal

PackState = Literal["queued", "making", "ready", "failed", "cancelled"]
PACK_STATES: tuple[PackState, ...] = ("queued", "making", "ready", "failed", "cancelled")
#: States that do not change any more.
FINAL_STATES: tuple[PackState, ...] = ("ready", "failed", "cancelled")
#: The owner of everything on a machine without tutors.
LOCAL_OWNER = "local"
Json = dict[str, Any]
#: Letters of an id after its prefix: 128 bits in base 64 (RFC 4648, 5).
ID_LETTERS = 22
#: Prefixes of ids: reference, pack, tutor, student, course site, class, batch, key, printer,
#: session, line of a site's log, webhook, message of a webhook, learning platform,
#: result for its gradebook.
Prefix = Literal[
    "ref_",
    "pck_",
    "tut_",
    "stu_",
    "sit_",
    "cls_",
    "bat_",
    "key_",
    "prn_",
    "ses_",
    "log_",
    "whk_",
    "msg_",
    "plf_",
    "lti_",
]


def new_id(prefix: Prefix) -> str:
    """A new random id (128 bits), which nobody can guess."""
    return prefix + secrets.token_urlsafe(16)


def attempt_key(pack_id: str, token: str) -> str:
    """The storage key of the files that one attempt published."""
    return f"packs/{pack_id}/{token}"


@dataclass(frozen=True, kw_only=True)
class ReferenceRow:
    """A reference; its files are stored under `files_key`.

    Attributes:
        delete_after: When it is deleted with everything made from it; None: never by itself.
        made_from: The reference that it was squared up from; None: a photo as it was sent.
        resolved_px: The study's, so that a board need not read studies.
    """

    id: str = field(default_factory=lambda: new_id("ref_"))
    owner_id: str = LOCAL_OWNER
    width_px: int
    height_px: int
    format: str
    sha256: str
    created_at: float = 0.0
    delete_after: float | None = None
    made_from: str | None = None
    resolved_px: float = 1.0

    @property
    def files_key(self) -> str:
        """The storage key of master, study and preview."""
        return f"references/{self.id}"


@dataclass(frozen=True, kw_only=True)
class PrinterRow:
    """A printer that was measured, with one sheet format.

    Attributes:
        class_id: The class that it is shared with; None: it is not shared.
        across_mm, down_mm: Measured lengths of the test page's bars; None: not measured.
        margin_mm: The margins that it cannot print, by edge; None: not measured.
    """

    id: str = field(default_factory=lambda: new_id("prn_"))
    owner_id: str = LOCAL_OWNER
    class_id: str | None = None
    name: str
    sheet_format: str
    across_mm: float | None = None
    down_mm: float | None = None
    margin_mm: Json | None = None
    created_at: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """How much one person may have; None: no bound.

    Attributes:
        unfinished: Packs that are not made yet.
        packs: Packs that they asked for themselves.
        pages: Sheets of those packs, in all.
    """

    unfinished: int | None = None
    packs: int | None = None
    pages: int | None = None


@dataclass(frozen=True, kw_only=True)
class NewPack:
    """A pack that is asked for.

    Attributes:
        spec: The spec as JSON, already checked.
        cost_s: Estimated time that making takes; used for the fair order alone.
        plan: The plan as JSON, from which the pack is drawn; without one it cannot be made.
        total: How many sheets the pack has.
        payer_id: The person who asks, whose virtual time it is charged to; None: the owner. A
            tutor pays for a batch, so that no student waits behind it, and may lend their photo.
        delete_after: When it is deleted; None: never by itself.
        bounds: How much its owner may have, this pack included; None: no bounds.
        recipient: The student's name that its sheets carry; None: none.
        request_id: Of the request that asks for it, for the log; None: it is not known.
    """

    id: str = field(default_factory=lambda: new_id("pck_"))
    owner_id: str = LOCAL_OWNER
    reference_id: str
    title: str = ""
    spec: Json
    plan: Json | None = None
    total: int = 0
    cost_s: float = 1.0
    payer_id: str | None = None
    delete_after: float | None = None
    bounds: Bounds | None = None
    recipient: str | None = None
    request_id: str | None = None


@dataclass(frozen=True, kw_only=True)
class PackRow:
    """A pack as the ledger knows it.

    Attributes:
        done, total, step: Pieces made, pieces in all, and the name of the current step.
        attempt: How often making was begun.
        lease_token, lease_until, lease_holder: The lease of the process that makes it.
        virtual_time: Start in the fair order; a smaller one is made sooner.
        not_before: It is not begun before this time (a pause before another attempt).
        error_code, error_detail: Why it failed.
        files_key: The storage key of `pack.pdf` and `map.png` when it is ready.
        delete_after: When it is deleted; None: never by itself.
        printed_at, joined_at: When someone marked it as printed or joined.
        payer_id: The person whose virtual time it was charged to; None: its owner.
        room_waits: How often the disk ran full while it was made.
        recipient: The student's name that its sheets carry; None: none.
        request_id: Of the request that asked for it, for the log; None: it is not known.
    """

    id: str
    owner_id: str
    reference_id: str
    title: str
    number: str | None
    spec: Json
    plan: Json | None
    state: PackState
    done: int
    total: int
    step: str
    attempt: int
    lease_token: str | None
    lease_until: float | None
    lease_holder: str | None
    cancel_requested: bool
    virtual_time: float
    not_before: float
    created_at: float
    started_at: float | None
    finished_at: float | None
    error_code: str | None
    error_detail: str | None
    files_key: str | None
    delete_after: float | None = None
    printed_at: float | None = None
    joined_at: float | None = None
    payer_id: str | None = None
    room_waits: int = 0
    recipient: str | None = None
    request_id: str | None = None

    @property
    def ended(self) -> bool:
        """The state will not change again."""
        return self.state in FINAL_STATES


@dataclass(frozen=True, kw_only=True)
class PackProgress:
    """Progress of a pack, without spec and plan, which are long; attributes as in `PackRow`."""

    id: str
    state: PackState
    done: int
    total: int
    step: str
    attempt: int
    cancel_requested: bool

    @property
    def ended(self) -> bool:
        """The state will not change again."""
        return self.state in FINAL_STATES


@dataclass(frozen=True, kw_only=True)
class Claim:
    """The lease on one pack, which lasts as long as heartbeats renew it."""

    pack: PackRow
    token: str

    @property
    def files_key(self) -> str:
        """The storage key of this attempt alone."""
        return attempt_key(self.pack.id, self.token)


class HeartbeatReply(Enum):
    """Whether a lease is held, held but the pack cancelled, or lost."""

    HELD = "held"
    CANCEL = "cancel"
    LOST = "lost"


@dataclass(frozen=True, kw_only=True)
class PackResult:
    """What is recorded of a finished pack; its plan stays as it was asked for."""

    number: str
    files_key: str
    total: int


@dataclass(frozen=True, kw_only=True)
class EndedPack:
    """A pack that someone cancelled or deleted.

    Attributes:
        pack: The row as it is now; None when it was deleted.
        keys: Storage keys to delete now.
    """

    pack: PackRow | None
    keys: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FreedPacks:
    """Packs whose leases were freed: ids by new state, and storage keys that no row names."""

    requeued: tuple[str, ...] = ()
    gave_up: tuple[str, ...] = ()
    cancelled: tuple[str, ...] = ()
    stale_keys: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Gauges:
    """Counts for the metrics page.

    Attributes:
        packs: By state.
        references: How many there are.
        idle_s: How long ago a worker last made a pack; 0 while one does, infinite where none
            ever did.
        oldest_s: The age of the oldest pack that waits, and of the oldest that is being made.
    """

    packs: dict[PackState, int]
    references: int
    idle_s: float
    oldest_s: dict[PackState, float]


@dataclass(frozen=True)
class HeldKey:
    """A key that a request holds until it completes or abandons it."""

    owner_id: str
    key: str
    token: str


@dataclass(frozen=True)
class Replay:
    """The stored answer of a key, to be sent again."""

    status: int
    body: str


@dataclass(frozen=True, kw_only=True)
class IdempotentAnswer:
    """Stores a request's answer in the same transaction as its effect.

    So a power cut leaves both or neither.

    Attributes:
        held_key: The key that the request holds.
        answer: Gets the row that was made; returns the status and the body to store. It must not
            use the ledger.
    """

    held_key: HeldKey
    answer: Callable[[Any], tuple[int, str]]
