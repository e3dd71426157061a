"""Ricalco's client library: packs from Python, over HTTP.

Importing it loads requests and nothing of the service or the worker, so a website can use it
in its own process.
"""

from __future__ import annotations

from .api import Ricalco
from .errors import (
    AnswerUnreadable,
    ClientError,
    DownloadDamaged,
    MachineNotReady,
    MakingFailed,
    PapersRefused,
    PhotoRefused,
    ReadingRefused,
    RequestRefused,
    ServiceError,
    ServiceUnreachable,
    SpecRefused,
    StateRefused,
    WaitedTooLong,
    WebhookRefused,
)
from .values import Batch, Link, Pack, Printer, Progress, Reference, WebhookEvent

__all__ = [
    "AnswerUnreadable",
    "Batch",
    "ClientError",
    "DownloadDamaged",
    "Link",
    "MachineNotReady",
    "MakingFailed",
    "Pack",
    "PapersRefused",
    "PhotoRefused",
    "Printer",
    "Progress",
    "ReadingRefused",
    "Reference",
    "RequestRefused",
    "Ricalco",
    "ServiceError",
    "ServiceUnreachable",
    "SpecRefused",
    "StateRefused",
    "WaitedTooLong",
    "WebhookEvent",
    "WebhookRefused",
]
