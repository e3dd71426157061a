"""What requests work with: settings, ledger, storage, studies and gates, in one place.

It is made once by `create_app` and hung on the application; views ask for it here.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from typing import cast

from flask import current_app

from service.digests import Digests
from service.gates import Gate
from service.metrics import Counters
from service.studies import Studies
from worker.ledger import LOCAL_OWNER, Ledger
from worker.settings import Settings
from worker.storage import Storage

EXTENSION = "ricalco"


@dataclass(frozen=True, kw_only=True)
class Desk:
    """Everything a view needs.

    Attributes:
        making: Bounds intakes and single sheets, which keep a core busy each.
        streams: Bounds event streams.
        closing: Set when the service stops, so that streams end.
    """

    settings: Settings
    ledger: Ledger
    storage: Storage
    studies: Studies
    making: Gate
    streams: Gate
    counters: Counters = field(default_factory=Counters)
    digests: Digests = field(default_factory=Digests)
    closing: threading.Event = field(default_factory=threading.Event)


def desk() -> Desk:
    """The desk of the application that answers this request."""
    return cast("Desk", current_app.extensions[EXTENSION])


def owner_id() -> str:
    """Who asks: on one machine without tutors, always its user."""
    return LOCAL_OWNER


def making_gate() -> Gate:
    """As many as there are cores."""
    return Gate(
        os.cpu_count() or 1,
        wait_s=20,
        detail="Too many photos are being taken in at once. Try again in a few seconds.",
    )


def stream_gate(places: int) -> Gate:
    """Event streams; who finds no place can poll instead."""
    return Gate(
        places,
        wait_s=0,
        detail="Too many event streams are open. Ask for the pack itself now and then instead.",
        retry_after_s=10,
    )
