"""Ricalco's client library: packs from Python, over HTTP.

Importing it loads requests and nothing of the service or the worker, so a website can use it
in its own process.
"""

from __future__ import annotations

from client.api import Ricalco
from client.errors import (
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
from client.values import Batch, Pack, Printer, Progress, Reference

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
