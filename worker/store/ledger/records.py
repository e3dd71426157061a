"""What goes into the ledger and what comes out: plain frozen values.

Nobody outside this folder sees SQLAlchemy. Times are seconds since 1970 (UTC), as
`time.time` gives them.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from typing import Any, Literal

PackState = Literal["queued", "making", "ready", "failed", "cancelled"]
PACK_STATES: tuple[PackState, ...] = ("queued", "making", "ready", "failed", "cancelled")
#: States that a pack does not leave again.
FINAL_STATES: tuple[PackState, ...] = ("ready", "failed", "cancelled")
#: Who owns everything on a machine without people.
LOCAL_OWNER = "local"
Json = dict[str, Any]
#: Letters of an id after its prefix: 128 bits in base 64 (RFC 4648, 5).
ID_LETTERS = 22
#: What an id says that it names: photo, pack, tutor, student, course site, class, batch, key,
#: printer.
Prefix = Literal["ref_", "pck_", "tut_", "stu_", "sit_", "cls_", "bat_", "key_", "prn_"]


def new_id(prefix: Prefix) -> str:
    """An id nobody can guess (128 bits), that says what it names."""
    return prefix + secrets.token_urlsafe(16)


def attempt_key(pack_id: str, token: str) -> str:
    """Where storage keeps what one attempt published."""
    return f"packs/{pack_id}/{token}"


@dataclass(frozen=True, kw_only=True)
class ReferenceRow:
    """A photo that was taken in; its files lie under `files_key`.

    Attributes:
        delete_after: When it is deleted with everything made from it; None: when its
            owner does.
        made_from: The reference that it was squared up from; None: a photo as it came.
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

    @property
    def files_key(self) -> str:
        """Where storage keeps master, study and preview."""
        return f"references/{self.id}"


@dataclass(frozen=True, kw_only=True)
class PrinterRow:
    """A printer that was measured, with one sheet format.

    Attributes:
        class_id: The class that it is shared with.
        across_mm, down_mm: What the test page's bars measured; None: not measured.
        margin_mm: What it cannot print, by edge; None: not looked at.
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
        packs, pages: Packs that they asked for themselves, and sheets in all of those.
    """

    unfinished: int | None = None
    packs: int | None = None
    pages: int | None = None


@dataclass(frozen=True, kw_only=True)
class NewPack:
    """A pack that is asked for.

    Attributes:
        spec: The spec as JSON, already checked.
        cost_s: About how long making will take; only fairness between owners rests on it.
        plan: The plan as JSON, which is what will be drawn; a pack without one cannot be made.
        payer_id: Who asks, and whose virtual time it is charged to; None: the owner. A tutor
            pays for a batch, so that no student queues behind it, and may lend their photo.
        delete_after: When it is deleted.
        bounds: How much its owner may have with it.
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


@dataclass(frozen=True, kw_only=True)
class PackRow:
    """A pack as the ledger knows it.

    Attributes:
        done, total, step: Pieces made, pieces to make, and what is being done.
        attempt: How often making was begun.
        lease_token, lease_until: Who may finish it, and until when unheard.
        virtual_time: Place in the fair order; smaller is sooner.
        not_before: It is not begun before this time (a pause before another attempt).
        error_code, error_detail: Why it failed.
        files_key: Where storage keeps `pack.pdf` and `map.png` when it is ready.
        delete_after: When it is deleted; None: when its owner does.
        printed_at, joined_at: When someone marked it so.
        payer_id: Whose virtual time it was charged to, where that is not its owner's.
        room_waits: How often its making met a full disk.
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

    @property
    def ended(self) -> bool:
        """The state will not change again."""
        return self.state in FINAL_STATES


@dataclass(frozen=True, kw_only=True)
class PackProgress:
    """How far a pack is, without spec and plan, which are long; the words are PackRow's."""

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
    """The right to make one pack, as long as heartbeats come."""

    pack: PackRow
    token: str

    @property
    def files_key(self) -> str:
        """Where this attempt, and no other, publishes."""
        return attempt_key(self.pack.id, self.token)


class HeartbeatReply(Enum):
    """What a heartbeat brings back."""

    HELD = "held"
    CANCEL = "cancel"
    LOST = "lost"


@dataclass(frozen=True, kw_only=True)
class PackResult:
    """What a finished pack is known by; its plan is what it was when it was asked for."""

    number: str
    files_key: str
    total: int


@dataclass(frozen=True, kw_only=True)
class EndedPack:
    """What became of a pack that someone cancelled or deleted.

    Attributes:
        pack: The row as it is now; None when it was deleted.
        keys: Files that must be deleted from storage now.
    """

    pack: PackRow | None
    keys: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FreedPacks:
    """What one sweep mended; ids of packs, and keys of files nobody owns any more."""

    requeued: tuple[str, ...] = ()
    gave_up: tuple[str, ...] = ()
    cancelled: tuple[str, ...] = ()
    stale_keys: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Gauges:
    """Counts for the metrics page.

    Attributes:
        packs: By state.
        oldest_wait_s: How long the pack has waited that has waited longest.
        idle_s: How long ago a worker last made something; 0 while one does, infinite where
            none ever did.
    """

    packs: dict[PackState, int]
    references: int
    oldest_wait_s: float
    idle_s: float


@dataclass(frozen=True)
class HeldKey:
    """The first request with its idempotency key: go on, then complete or abandon it."""

    owner_id: str
    key: str
    token: str


@dataclass(frozen=True)
class Replay:
    """The key was answered before: give this answer again."""

    status: int
    body: str


@dataclass(frozen=True, kw_only=True)
class IdempotentAnswer:
    """Complete an idempotency key in the transaction that makes the thing.

    So a power cut leaves both or neither. `answer` gets the row that was made and gives
    the status and the body to keep; it must not touch the ledger.
    """

    held_key: HeldKey
    answer: Callable[[Any], tuple[int, str]]
