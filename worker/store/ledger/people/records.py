"""People, classes and batches as frozen dataclasses; see `ledger.records` for photos and packs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from worker.store.ledger.records import Json, new_id

Role = Literal["local", "tutor", "student", "site"]
ROLES: tuple[Role, ...] = ("local", "tutor", "student", "site")
#: Retention of photos and packs unless a class has another (our choice: a course of four
#: weeks).
KEEP_DAYS = 30
#: How long an unused browser stays signed in (our choice: the same).
SIGN_IN_DAYS = 30
DAY_S = 24 * 3600.0


@dataclass(frozen=True, kw_only=True)
class Person:
    """A person or a course site that sends requests.

    Attributes:
        class_id: A student's class.
        tutor_id: The tutor whose course site it is.
        position: A student's place on the roster, from 0.
        withdrawn_at: Since when their keys are not valid; None: they are.
    """

    id: str
    role: Role
    name: str
    class_id: str | None = None
    tutor_id: str | None = None
    position: int | None = None
    withdrawn_at: float | None = None
    created_at: float = 0.0

    @property
    def acting_id(self) -> str:
        """The id that decides what they may see, and that owns what they make."""
        return self.id


@dataclass(frozen=True, kw_only=True)
class AccessKey:
    """A key or a browser's sign-in, without its secret.

    Attributes:
        opened_with: The key that the browser signed in with; None: this is a key.
        ends_at: When an unused sign-in expires; None: never.
        via_site: The learning platform's site whose launch it came from, and with which it ends;
            None: it is the person's own.
    """

    id: str
    owner_id: str
    label: str
    created_at: float
    last_used_at: float | None = None
    withdrawn_at: float | None = None
    opened_with: str | None = None
    ends_at: float | None = None
    via_site: str | None = None

    @property
    def is_sign_in(self) -> bool:
        """Whether it is a browser's sign-in."""
        return self.opened_with is not None


@dataclass(frozen=True, kw_only=True)
class IssuedKey:
    """A new key with its secret, which cannot be read later."""

    key: str
    access: AccessKey


def _printed_in_black() -> Json:
    """What a new class starts from: pages with colour are dear where thirty packs are printed."""
    return {"print": {"black_only": True}}


@dataclass(frozen=True, kw_only=True)
class ClassSettings:
    """What a tutor has set for a class.

    Attributes:
        defaults: Part of a spec; students' specs get its values where they give none. A new
            class prints map and guide in black.
        may_change: Dotted paths of spec fields that students may change, each with all
            below it (`support`, `sheet.format`); None: all of them.
        photos, packs, pages: How many a student may have; None: no bound.
        keep_days: Retention of photos and packs, in days.
        print_names: Whether the sheets of a student's pack carry their name.
        show_names: Whether the join page lists the roster's free names.
        open_roster: Whether someone who is not on the roster may join by their name.
    """

    defaults: Json = field(default_factory=_printed_in_black)
    may_change: tuple[str, ...] | None = None
    photos: int | None = 5
    packs: int | None = 20
    pages: int | None = 400
    keep_days: int = KEEP_DAYS
    print_names: bool = True
    show_names: bool = False
    open_roster: bool = False

    @property
    def keep_s(self) -> float:
        """The same in seconds."""
        return self.keep_days * DAY_S

    def to_json(self) -> Json:
        """As the ledger keeps it."""
        may_change = None if self.may_change is None else list(self.may_change)
        return {**vars(self), "may_change": may_change}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> ClassSettings:
        """From the ledger; a field that an older version did not know has its default."""
        known = {name: value for name, value in kept.items() if name in cls.__annotations__}
        if known.get("may_change") is not None:
            known["may_change"] = tuple(known["may_change"])
        return cls(**known)


@dataclass(frozen=True, kw_only=True)
class ClassRow:
    """A class; `join_code` is without the hyphen that is shown in it.

    Attributes:
        joining_until: When joining closes by itself; None: when a tutor closes it.
        picture_id: The photo that students find as the class's picture; None: none.
        picture: How its tutor has framed it: parts of a spec, and the photo's size.
    """

    id: str
    tutor_id: str
    name: str
    join_code: str
    joining_open: bool
    settings: ClassSettings
    closes_at: float | None
    created_at: float
    joining_until: float | None = None
    picture_id: str | None = None
    picture: Json | None = None

    def joinable(self, now: float) -> bool:
        """Whether joining is open now."""
        return self.joining_open and (self.joining_until is None or self.joining_until > now)


@dataclass(frozen=True, kw_only=True)
class StudentRow:
    """A line of the roster.

    Attributes:
        joined: Whether a device has a valid key.
    """

    id: str
    class_id: str
    name: str
    position: int
    joined: bool
    withdrawn_at: float | None
    created_at: float


@dataclass(frozen=True, kw_only=True)
class TutorRow:
    """A tutor in a class; `owns` where the class is theirs."""

    id: str
    name: str
    owns: bool
    created_at: float


@dataclass(frozen=True, kw_only=True)
class Usage:
    """What a student has, as the limits count it: packs that they asked for themselves."""

    photos: int
    packs: int
    pages: int


@dataclass(frozen=True, kw_only=True)
class BatchRow:
    """One set of packs made for a class."""

    id: str = field(default_factory=lambda: new_id("bat_"))
    class_id: str
    title: str = ""
    created_at: float = 0.0
    cancelled_at: float | None = None
    delete_after: float | None = None


@dataclass(frozen=True, kw_only=True)
class BatchItemRow:
    """One pack of a batch, or why there is none.

    Attributes:
        position: Roster order, from 0; unique within the batch.
        student_id: The student that it is for; None: no student.
    """

    batch_id: str
    position: int
    student_id: str | None = None
    reference_id: str | None = None
    pack_id: str | None = None
    spec: Json | None = None
    title: str = ""
    note: str = ""
    error_code: str | None = None
    error_detail: str | None = None
