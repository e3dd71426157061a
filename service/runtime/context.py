"""What requests work with: settings, ledger, storage, studies and gates, in one place.

It is made once by `create_app` and hung on the application; views ask for it here.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from typing import cast

from flask import current_app, g

from service.http.downloads.digests import Digests
from service.runtime.concurrency import FairGate, Gate
from service.runtime.failed_attempts import Tries
from service.runtime.key_holds import Holds
from service.runtime.metrics import Counters
from service.runtime.progress_watch import Watcher
from service.runtime.study_cache import Studies
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
class Desk:
    """Everything a view needs.

    Attributes:
        making: Bounds previews and squaring up, which keep a core busy each.
        sheets: Bounds single sheets that are made again, the same.
        intake: Takes photos in, in processes of their own.
        reading: Bounds them.
        streams: Bounds event streams.
        watcher: Looks after the packs that event streams follow.
        tries: Counts wrong join codes.
        holds: Keeps the idempotency keys of requests under way held.
        closing: Set when the service stops, so that streams end.
        damage: What the start found wrong with the ledger's content.
    """

    settings: Settings
    ledger: Ledger
    storage: Storage
    studies: Studies
    making: Gate
    sheets: Gate
    intake: Intake
    reading: Gate
    streams: FairGate
    holds: Holds
    watcher: Watcher
    counters: Counters = field(default_factory=Counters)
    digests: Digests = field(default_factory=Digests)
    tries: Tries = field(default_factory=Tries)
    closing: threading.Event = field(default_factory=threading.Event)
    damage: LedgerDamaged | None = None


def desk() -> Desk:
    """The desk of the application that answers this request."""
    return cast("Desk", current_app.extensions[EXTENSION])


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
    if not desk().ledger.people.sees(owner_id(), "student_id", student_id):
        raise NotFound("There is no such student.", field="student_id")
    return student_id


def making_gate() -> Gate:
    """As many as there are cores."""
    return Gate(
        os.cpu_count() or 1,
        wait_s=20,
        detail="Too much is being drawn at once. Try again in a few seconds.",
    )


def reading_gate() -> Gate:
    """As many photos at once as there are cores, but no more than memory should have to hold.

    It is a gate of its own: photos that are built to keep a decoder busy until it is ended make
    only other photos wait, and no preview, sheet or plan. They wait longer than such a photo
    lasts.
    """
    return Gate(
        min(os.cpu_count() or 1, MOST_READ_AT_ONCE),
        wait_s=READING_WAIT_S,
        detail="Too many photos are being taken in at once. Try again in a few seconds.",
    )


def intake_of(settings: Settings) -> Intake:
    """What takes photos in; no process starts before there is a photo, or it is warmed."""
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    budget = Budget.for_pixels(settings.max_pixels, settings.photo_seconds)
    return Intake(limits, budget, threads=settings.threads)


def sheets_gate() -> Gate:
    """A core's worth of sheets at once, and few that wait: each holds a thread.

    A pack that is ready is fetched over the same threads, and must never wait for them.
    """
    return Gate(
        1,
        wait_s=10,
        detail="Too many sheets are being made again at once. Try again in a few seconds.",
        most_waiting=3,
    )


#: Somebody with more pages open than this has their packs asked for now and then.
MOST_STREAMS_EACH = 4


def stream_gate(places: int) -> FairGate:
    """Event streams; who finds no place can poll instead."""
    gate = Gate(
        places,
        wait_s=0,
        detail="Too many event streams are open. Ask for the pack itself now and then instead.",
        retry_after_s=10,
    )
    return FairGate(gate, MOST_STREAMS_EACH)
