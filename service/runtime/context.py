"""What views work with: settings, ledger, storage, caches and limits of one application.

`create_app` makes one `ServiceContext` and keeps it in the application's extensions; views
get it here. The helpers below say in which person's name a request is made.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import cast

from flask import current_app, g

from service.http.answers.downloads.digests import Digests
from service.runtime.caches.plans import PlanCache
from service.runtime.caches.recent_answer import RecentAnswer
from service.runtime.caches.studies import StudyCache
from service.runtime.caches.styles import StyleCache
from service.runtime.key_holds import KeyHolds
from service.runtime.limits.concurrency import ConcurrencyLimit, PerPersonLimit
from service.runtime.limits.failed_attempts import FailedAttempts
from service.runtime.limits.session_rate import SessionRate
from service.runtime.progress_watch import ProgressWatcher
from worker.errors import LedgerDamaged, NotFound
from worker.reference.decode import Limits
from worker.reference.isolated import Budget, Intake
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import BatchProgress, Ledger, PackProgress, Person
from worker.store.metrics.counts import Counts

EXTENSION = "ricalco"


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


def make_intake(settings: Settings) -> Intake:
    """The decoder of photos; its processes start with the first photo, or with `warm`."""
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    budget = Budget.for_pixels(settings.max_pixels, settings.photo_seconds)
    return Intake(limits, budget, threads=settings.threads)
