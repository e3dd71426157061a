"""All errors of the client library; their families mirror those of the service's codes.

    ClientError
    ├── PhotoRefused ......... the photo cannot be used            reference-…
    ├── SpecRefused .......... the job cannot be done as asked     spec-invalid, crop-outside, …
    ├── ReadingRefused ....... read off a test page, not usable    page-fitting, …
    ├── StateRefused ......... it is not there, or not now         not-found, pack-not-ready, …
    ├── PapersRefused ........ a class's papers cannot be used     table-unreadable
    ├── MakingFailed ......... a pack ended without its files      cancelled, gave-up, …
    ├── MachineNotReady ...... the service's machine is not ready  storage-full, …
    ├── RequestRefused ....... any other answer from 400 on
    ├── WebhookRefused ....... a request that is none of the service's webhooks
    └── ServiceError ......... no usable answer at all
        ├── ServiceUnreachable    service-unreachable
        ├── AnswerUnreadable      answer-unreadable
        ├── DownloadDamaged       download-damaged
        └── WaitedTooLong         waited-too-long

Users of the library tell a bad photo from a bad spec by class, without loading the service:
so the codes are listed here again, and a test holds both lists together. Only the standard
library is imported here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


class ClientError(Exception):
    """A request failed.

    Attributes:
        code: Stable name of the kind of error, as the service gives it.
        detail: One or two sentences: what is wrong and what to do.
        field: Dotted path of the field at fault, or None.
        status: HTTP status of the answer; None when there was none.
        readable_share: About how much of a damaged photo can be read, or None.
    """

    default_code = "error"

    def __init__(
        self,
        detail: str,
        *,
        code: str | None = None,
        field: str | None = None,
        status: int | None = None,
    ) -> None:
        super().__init__(detail)
        self.detail = detail
        self.code = code or self.default_code
        self.field = field
        self.status = status
        self.readable_share: float | None = None


class PhotoRefused(ClientError):
    """The photo cannot be used."""


class SpecRefused(ClientError):
    """The job cannot be done as specified."""


class ReadingRefused(ClientError):
    """A reading of a test page cannot be used."""


class StateRefused(ClientError):
    """The resource is missing, or not in the right state."""


class PapersRefused(ClientError):
    """A class's papers cannot be used."""


class MakingFailed(ClientError):
    """A pack ended without its files."""


class MachineNotReady(ClientError):
    """The machine that the service runs on is not ready."""


class RequestRefused(ClientError):
    """The service refused for a reason of no family above."""


class WebhookRefused(ClientError):
    """A request that came as a webhook is forged, too old, or not whole."""

    default_code = "webhook-refused"


class ServiceError(ClientError):
    """The service gave no usable answer."""


class ServiceUnreachable(ServiceError):
    """No connection, or no answer in time."""

    default_code = "service-unreachable"


class AnswerUnreadable(ServiceError):
    """Something answered, but it is no Ricalco service."""

    default_code = "answer-unreadable"


class DownloadDamaged(ServiceError):
    """A file did not arrive whole; nothing is left under its name."""

    default_code = "download-damaged"


class WaitedTooLong(ServiceError):
    """The pack is still being made when the time is up."""

    default_code = "waited-too-long"


#: The family of each code of the service.
FAMILIES: Mapping[str, type[ClientError]] = {
    "reference-empty": PhotoRefused,
    "reference-type": PhotoRefused,
    "reference-damaged": PhotoRefused,
    "reference-too-many-pixels": PhotoRefused,
    "reference-too-large": PhotoRefused,
    "reference-too-small": PhotoRefused,
    "reference-too-complex": PhotoRefused,
    "reference-too-slow": PhotoRefused,
    "spec-invalid": SpecRefused,
    "size-unreadable": SpecRefused,
    "sheet-format-unknown": SpecRefused,
    "usable-area-too-small": SpecRefused,
    "picture-too-small": SpecRefused,
    "too-many-sheets": SpecRefused,
    "crop-outside": SpecRefused,
    "crop-proportions": SpecRefused,
    "corners-unusable": SpecRefused,
    "spec-fixed": SpecRefused,
    "page-fitting": ReadingRefused,
    "reading-implausible": ReadingRefused,
    "not-found": StateRefused,
    "pack-not-ready": StateRefused,
    "idempotency-key-reused": StateRefused,
    "idempotency-key-in-progress": StateRefused,
    "tutor-exists": StateRefused,
    "class-closed": StateRefused,
    "joining-closed": StateRefused,
    "not-on-roster": StateRefused,
    "name-taken": StateRefused,
    "roster-full": StateRefused,
    "roster-changed": StateRefused,
    "limit-reached": StateRefused,
    "webhook-disabled": StateRefused,
    "too-many-unfinished": StateRefused,
    "table-unreadable": PapersRefused,
    "cancelled": MakingFailed,
    "gave-up": MakingFailed,
    "reference-gone": MakingFailed,
    "files-missing": MakingFailed,
    "plan-outdated": MakingFailed,
    "too-slow": MakingFailed,
    "setting-invalid": MachineNotReady,
    "folder-not-writable": MachineNotReady,
    "port-taken": MachineNotReady,
    "no-network": MachineNotReady,
    "platform-unreachable": MachineNotReady,
    "storage-full": MachineNotReady,
    "storage-unavailable": MachineNotReady,
    "ledger-unavailable": MachineNotReady,
    "ledger-damaged": MachineNotReady,
    "ledger-outdated": MachineNotReady,
    "broker-unavailable": MachineNotReady,
    "no-worker": MachineNotReady,
    "clock-differs": MachineNotReady,
}


def error_of_problem(problem: Mapping[str, Any], status: int | None = None) -> ClientError:
    """The error that a problem document (RFC 9457) describes.

    Args:
        problem: The document; `code`, `detail`, `title` and `field` are read.
        status: HTTP status of the answer.
    """
    code = problem.get("code")
    detail = problem.get("detail") or problem.get("title") or f"The service answered {status}."
    field = problem.get("field")
    kind = FAMILIES.get(str(code), RequestRefused)
    error = kind(
        str(detail),
        code=str(code) if code else f"http-{status}",
        field=str(field) if field else None,
        status=status,
    )
    share = problem.get("readable_share")
    error.readable_share = float(share) if isinstance(share, int | float) else None
    return error


def pack_failed(problem: Mapping[str, Any]) -> MakingFailed:
    """The error of a pack that ended as failed or cancelled, whatever its code."""
    error = error_of_problem(problem)
    return MakingFailed(error.detail, code=error.code, field=error.field)
