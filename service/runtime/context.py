"""What views work with: settings, ledger, storage, caches and limits of one application.

`create_app` makes one `ServiceContext` and keeps it in the application's extensions; views
get it here. The helpers below say in which person's name a request is made.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from typing import cast

from flask import current_app, g

from service.http.downloads.digests import Digests
from service.runtime.concurrency import ConcurrencyLimit, PerPersonLimit
from service.runtime.failed_attempts import FailedAttempts
from service.runtime.key_holds import KeyHolds
from service.runtime.metrics import Counters
from service.runtime.progress_watch import ProgressWatcher
from service.runtime.study_cache import StudyCache
from worker.errors import LedgerDamaged, NotFound
from worker.reference.decode import Limits
from worker.reference.isolated import Budget, Intake
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import Ledger, Person

EXTENSION = "ricalco"
#: Each may take a gigabyte, where a photo has as many pixels as are accepted.
MOST_READ_AT_ONCE = 4
READING_WAIT_S = 30.0


@dataclass(frozen=True, kw_only=True)
class ServiceContext:
    """What all requests to one application share.

    Attributes:
        drawing_limit: Bounds previews and squaring up, which keep a core busy each.
        sheet_limit: Bounds single sheets that are made again, the same.
        intake: Takes photos in, in processes of their own.
        intake_limit: Bounds them.
        stream_limit: Bounds event streams.
        progress_watcher: Looks after the packs that event streams follow.
        failed_attempts: Counts wrong join codes.
        key_holds: Keeps the idempotency keys of requests under way held.
        closing: Set when the service stops, so that streams end.
        damage: What the start found wrong with the ledger's content.
    """

    settings: Settings
    ledger: Ledger
    storage: Storage
    study_cache: StudyCache
    drawing_limit: ConcurrencyLimit
    sheet_limit: ConcurrencyLimit
    intake: Intake
    intake_limit: ConcurrencyLimit
    stream_limit: PerPersonLimit
    key_holds: KeyHolds
    progress_watcher: ProgressWatcher
    counters: Counters = field(default_factory=Counters)
    digests: Digests = field(default_factory=Digests)
    failed_attempts: FailedAttempts = field(default_factory=FailedAttempts)
    closing: threading.Event = field(default_factory=threading.Event)
    damage: LedgerDamaged | None = None


def get_context() -> ServiceContext:
    """The context of the application that answers this request."""
    return cast("ServiceContext", current_app.extensions[EXTENSION])


def person() -> Person:
    """Who asks; `service.access.rules` has looked at their key."""
    return cast("Person", g.person)


def owner_id() -> str:
    """In whose name they ask, which is how the ledger knows whose things are meant."""
    return person().acting_id


def owner_for(student_id: str | None) -> str:
    """Whose a new thing is: the student's that a tutor names, or the asker's own.

    Raises:
        NotFound: It is none of their students.
    """
    if student_id is None:
        return owner_id()
    if not get_context().ledger.people.sees(owner_id(), "student_id", student_id):
        raise NotFound("There is no such student.", field="student_id")
    return student_id


def drawing_limit() -> ConcurrencyLimit:
    """As many as there are cores."""
    return ConcurrencyLimit(
        os.cpu_count() or 1,
        wait_s=20,
        detail="Too much is being drawn at once. Try again in a few seconds.",
    )


def intake_limit() -> ConcurrencyLimit:
    """As many photos at once as there are cores, but no more than memory should have to hold.

    It is a gate of its own: photos that are built to keep a decoder busy until it is ended make
    only other photos wait, and no preview, sheet or plan. They wait longer than such a photo
    lasts.
    """
    return ConcurrencyLimit(
        min(os.cpu_count() or 1, MOST_READ_AT_ONCE),
        wait_s=READING_WAIT_S,
        detail="Too many photos are being taken in at once. Try again in a few seconds.",
    )


def make_intake(settings: Settings) -> Intake:
    """What takes photos in; no process starts before there is a photo, or it is warmed."""
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    budget = Budget.for_pixels(settings.max_pixels, settings.photo_seconds)
    return Intake(limits, budget, threads=settings.threads)


def sheet_limit() -> ConcurrencyLimit:
    """A core's worth of sheets at once, and few that wait: each holds a thread.

    A pack that is ready is fetched over the same threads, and must never wait for them.
    """
    return ConcurrencyLimit(
        1,
        wait_s=10,
        detail="Too many sheets are being made again at once. Try again in a few seconds.",
        max_waiting=3,
    )


#: Somebody with more pages open than this has their packs asked for now and then.
MOST_STREAMS_EACH = 4


def stream_limit(places: int) -> PerPersonLimit:
    """Event streams; who finds no place can poll instead."""
    limit = ConcurrencyLimit(
        places,
        wait_s=0,
        detail="Too many event streams are open. Ask for the pack itself now and then instead.",
        retry_after_s=10,
    )
    return PerPersonLimit(limit, MOST_STREAMS_EACH)
