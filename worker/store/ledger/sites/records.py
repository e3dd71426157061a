"""Course sites, sessions and lines of the log as frozen dataclasses; and the scopes there are."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from worker.store.ledger.people.records import DAY_S, StudentRow, TutorRow
from worker.store.ledger.records import new_id

Scope = Literal[
    "read-class",
    "add-students",
    "add-tutors",
    "change-class",
    "start-sessions",
    "make-packs",
    "fetch-packs",
    "delete-packs",
    "delete-students",
    "student-keys",
    "webhooks",
]
#: What each scope allows. None lets a site make or delete a class, or delete a tutor.
SCOPES: dict[Scope, str] = {
    "read-class": "Read the class: its roster, board, batches, and how far packs are.",
    "add-students": "Put students on the roster, rename, order, withdraw and readmit them.",
    "add-tutors": "Add tutors to the class.",
    "change-class": "Change the class's name, settings and joining; see its join code.",
    "start-sessions": "Start sessions: a student works in a page of the site for ten minutes.",
    "make-packs": "Send photos; make plans, previews, packs, batches and printers.",
    "fetch-packs": "Fetch packs, sheets, maps, archives, tables and print runs.",
    "delete-packs": "Cancel and delete packs and batches; delete photos and printers.",
    "delete-students": "Delete students with everything that is theirs.",
    "student-keys": "Make and withdraw the keys of students' own devices.",
    "webhooks": "Have addresses told when packs end, batches are done and students join.",
}
#: What a site may do unless its tutor says otherwise: nothing that deletes, nothing that lasts
#: longer than the site.
DEFAULT_SCOPES: tuple[Scope, ...] = (
    "read-class",
    "add-students",
    "start-sessions",
    "make-packs",
    "fetch-packs",
)
#: What a student may be given in a session.
SESSION_SCOPES: tuple[Scope, ...] = ("make-packs", "fetch-packs", "delete-packs")
#: Without them a session is of little use.
DEFAULT_SESSION_SCOPES: tuple[Scope, ...] = ("make-packs", "fetch-packs")
#: How long a site lasts unless its tutor says otherwise (our choice: a school year), and at most.
SITE_S = 365 * DAY_S
LONGEST_SITE_S = 3 * SITE_S
#: How long a session's token opens.
SESSION_S = 600.0
#: How long the lines of a site's log are kept (our choice: a school term).
LOG_DAYS = 120
LOG_S = LOG_DAYS * DAY_S


@dataclass(frozen=True, kw_only=True)
class NewSite:
    """A new course site of a tutor.

    Attributes:
        class_ids: The classes in which it acts; None: all that are the tutor's own now.
        origins: Origins of its pages, as browsers send them.
    """

    tutor_id: str
    name: str
    class_ids: tuple[str, ...] | None = None
    scopes: tuple[Scope, ...] = DEFAULT_SCOPES
    origins: tuple[str, ...] = ()
    expires_at: float | None = None


@dataclass(frozen=True, kw_only=True)
class SiteRow:
    """A course site."""

    id: str
    tutor_id: str
    name: str
    class_ids: tuple[str, ...]
    scopes: tuple[Scope, ...]
    origins: tuple[str, ...]
    expires_at: float
    created_at: float
    last_used_at: float | None = None


@dataclass(frozen=True, kw_only=True)
class SessionRow:
    """A student's session in a page of a course site, without its token.

    Attributes:
        key_id: The site's key that it was started with.
        scopes: What the student may do besides looking: a part of what the site may do.
    """

    id: str
    student_id: str
    site_id: str
    key_id: str
    origin: str
    scopes: tuple[Scope, ...]
    created_at: float
    ends_at: float


@dataclass(frozen=True, kw_only=True)
class IssuedSession:
    """A new session with its token, which cannot be read later."""

    token: str
    session: SessionRow


@dataclass(frozen=True, kw_only=True)
class LogRow:
    """A line of a site's log: who did what when, by ids alone."""

    id: str = field(default_factory=lambda: new_id("log_"))
    at: float = 0.0
    site_id: str
    key_id: str | None = None
    session_id: str | None = None
    class_id: str | None = None
    action: str
    about: str | None = None


@dataclass(frozen=True, kw_only=True)
class Placed:
    """The person of an external id; `made` where they were not there before."""

    person: StudentRow | TutorRow
    made: bool
