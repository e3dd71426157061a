"""What views work with: settings, ledger, storage, caches and limits of one application.

`create_app` makes one `ServiceContext` and keeps it in the application's extensions; views
get it here. The helpers below say in which person's name a request is made.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from flask import current_app, g

from service.http.answers.downloads.digests import Digests
from service.runtime.concurrency import ConcurrencyLimit, PerPersonLimit
from service.runtime.failed_attempts import FailedAttempts
from service.runtime.key_holds import KeyHolds
from service.runtime.machine_slots import MachineSlots
from service.runtime.plan_cache import PlanCache
from service.runtime.progress_watch import ProgressWatcher
from service.runtime.recent_answer import RecentAnswer
from service.runtime.session_rate import SessionRate
from service.runtime.study_cache import StudyCache
from service.runtime.style_cache import StyleCache
from worker.errors import LedgerDamaged, NotFound
from worker.reference.decode import Limits
from worker.reference.isolated import Budget, Intake
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import BatchProgress, Ledger, PackProgress, Person
from worker.store.metrics.counts import Counts

EXTENSION = "ricalco"
#: Photos decoded at once; one with as many pixels as are accepted may take a gigabyte.
MAX_INTAKES = 4
#: How long a photo waits to be decoded; the sender is then asked to come again.
INTAKE_WAIT_S = 30.0


@dataclass(frozen=True, kw_only=True)
class ServiceContext:
    """What all requests to one application share.

    Attributes:
        drawing_limit: Limits previews and squaring up, each of which keeps a core busy.
        sheet_limit: Limits single sheets that are drawn again.
        full_size_limit: Limits whole pictures that are drawn on one page.
        intake: Decodes photos in processes of their own.
        intake_limit: Limits how many it decodes at once.
        stream_limit: Limits event streams.
        progress_watcher: Reads the progress of the packs that event streams follow.
        batch_watcher: The same for batches.
        failed_attempts: Counts wrong join codes.
        session_rate: Counts the sessions that course sites start.
        plan_cache: Keeps the plans that were made last.
        style_cache: Keeps the lines and tones that previews and close-ups draw.
        key_holds: Renews the leases of idempotency keys of requests under way.
        counts: What this process counts for metrics.
        last_checks: What `/readyz` found last.
        closing: Set when the service stops, so that streams end.
        damage: What was found wrong with the ledger's content at the start.
    """

    settings: Settings
    ledger: Ledger
    storage: Storage
    study_cache: StudyCache
    drawing_limit: ConcurrencyLimit
    sheet_limit: ConcurrencyLimit
    full_size_limit: ConcurrencyLimit
    intake: Intake
    intake_limit: ConcurrencyLimit
    stream_limit: PerPersonLimit
    key_holds: KeyHolds
    progress_watcher: ProgressWatcher[PackProgress]
    batch_watcher: ProgressWatcher[BatchProgress]
    counts: Counts = field(default_factory=Counts)
    digests: Digests = field(default_factory=Digests)
    failed_attempts: FailedAttempts = field(default_factory=FailedAttempts)
    session_rate: SessionRate = field(default_factory=SessionRate)
    plan_cache: PlanCache = field(default_factory=PlanCache)
    style_cache: StyleCache = field(default_factory=StyleCache)
    last_checks: RecentAnswer[dict[str, str]] = field(default_factory=RecentAnswer)
    closing: threading.Event = field(default_factory=threading.Event)
    damage: LedgerDamaged | None = None

    def forget(self, reference_id: str) -> None:
        """Drop what caches have of a reference that is gone."""
        for cache in (self.study_cache, self.plan_cache, self.style_cache):
            cache.drop(reference_id)

    def remembered(self) -> set[str]:
        """The references that caches have something of."""
        caches = (self.study_cache, self.plan_cache, self.style_cache)
        return set().union(*(cache.references() for cache in caches))


def get_context() -> ServiceContext:
    """The context of the application that answers this request."""
    return cast("ServiceContext", current_app.extensions[EXTENSION])


def person() -> Person:
    """The person who asks; `service.access.rules` has checked their key."""
    return cast("Person", g.person)


def owner_id() -> str:
    """The id of whoever asks, which owns what they make."""
    return person().acting_id


def owner_for(student_id: str | None) -> str:
    """The owner of a new thing: the student that a tutor names, else the person who asks.

    Raises:
        NotFound: The tutor has no such student.
    """
    if student_id is None:
        return owner_id()
    if not get_context().ledger.people.sees(owner_id(), "student_id", student_id):
        raise NotFound("There is no such student.", field="student_id")
    return student_id


def drawing_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For previews and squaring up: as many at once as there are cores.

    Args:
        folder: Where the processes of this machine share their slots, here and below; None:
            the limit is this process's own.
    """
    cores = os.cpu_count() or 1
    return ConcurrencyLimit(
        cores,
        shared=_shared(folder, "drawing", cores),
        wait_s=20,
        detail="Too much is being drawn at once. Try again in a few seconds.",
    )


def _shared(folder: Path | None, kind: str, count: int) -> MachineSlots | None:
    return None if folder is None else MachineSlots(folder, kind, count)


def intake_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For photos: as many at once as there are cores, and no more than fit into memory.

    It is a limit of its own, so that photos made to keep a decoder busy until it is ended delay
    other photos only.
    """
    slots = min(os.cpu_count() or 1, MAX_INTAKES)
    return ConcurrencyLimit(
        slots,
        shared=_shared(folder, "intake", slots),
        wait_s=INTAKE_WAIT_S,
        detail="Too many photos are being taken in at once. Try again in a few seconds.",
    )


def make_intake(settings: Settings) -> Intake:
    """The decoder of photos; its processes start with the first photo, or with `warm`."""
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    budget = Budget.for_pixels(settings.max_pixels, settings.photo_seconds)
    return Intake(limits, budget, threads=settings.threads)


def sheet_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For single sheets: one at once, and few that wait, since each holds a thread.

    Finished packs are sent by the same threads and must not have to wait for sheets.
    """
    return ConcurrencyLimit(
        1,
        shared=_shared(folder, "sheet", 1),
        wait_s=10,
        detail="Too many sheets are being made again at once. Try again in a few seconds.",
        max_waiting=3,
    )


def full_size_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For whole pictures on one page: as for sheets, and waited for longer."""
    return ConcurrencyLimit(
        1,
        shared=_shared(folder, "full-size", 1),
        wait_s=30,
        detail="Another picture is being made at full size. Try again in half a minute.",
        retry_after_s=30,
        max_waiting=2,
    )


#: Event streams of one person in one process; further pages of theirs poll instead. A stream
#: holds a thread of its process, so more processes have more streams, for each person too.
MOST_STREAMS_EACH = 4


def stream_limit(slots: int) -> PerPersonLimit:
    """For event streams; a client that gets no slot polls instead."""
    limit = ConcurrencyLimit(
        slots,
        wait_s=0,
        detail="Too many event streams are open. Ask for the pack itself now and then instead.",
        retry_after_s=10,
    )
    return PerPersonLimit(limit, MOST_STREAMS_EACH)
