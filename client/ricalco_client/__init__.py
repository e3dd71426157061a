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
)
from .values import Batch, Pack, Printer, Progress, Reference

__all__ = [
    "AnswerUnreadable",
    "Batch",
    "ClientError",
    "DownloadDamaged",
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
]
