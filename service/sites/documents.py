"""Course sites, sessions and logs as JSON documents."""

from __future__ import annotations

from typing import Any

from service.http.answers.json_responses import utc_datetime
from service.runtime.context import get_context
from service.sites.schemas import (
    WHEN_DELETED,
    IssuedSessionSchema,
    LogLineSchema,
    SessionSchema,
    SiteSchema,
)
from worker.store.ledger import IssuedKey, IssuedSession, LogRow, SessionRow, SiteRow

_SITE = SiteSchema()
_SESSION = SessionSchema()
_ISSUED = IssuedSessionSchema()
_LINE = LogLineSchema()


def site_document(row: SiteRow) -> dict[str, Any]:
    """A course site as a document."""
    used = row.last_used_at
    shown = {
        "created_at": utc_datetime(row.created_at),
        "expires_at": utc_datetime(row.expires_at),
        "expired": row.expires_at <= get_context().ledger.time(),
        "last_used_at": None if used is None else utc_datetime(used),
        "when_deleted": WHEN_DELETED,
        "links": {"self": f"/v1/sites/{row.id}"},
    }
    return dict(_SITE.dump({**vars(row), **shown}))


def issued_document(row: SiteRow, issued: IssuedKey) -> dict[str, Any]:
    """A course site with its new key, as a document."""
    return {"site": site_document(row), "key": issued.key, "key_id": issued.access.id}


def session_document(row: SessionRow) -> dict[str, Any]:
    """A session as a document."""
    return dict(_SESSION.dump(_shown(row)))


def issued_session_document(issued: IssuedSession) -> dict[str, Any]:
    """A session with its token, as a document."""
    return dict(_ISSUED.dump({**_shown(issued.session), "token": issued.token}))


def line_document(row: LogRow) -> dict[str, Any]:
    """A line of a log as a document."""
    return dict(_LINE.dump({**vars(row), "at": utc_datetime(row.at)}))


def _shown(row: SessionRow) -> dict[str, Any]:
    path = f"/v1/sessions/{row.id}"
    times = {name: utc_datetime(getattr(row, name)) for name in ("created_at", "ends_at")}
    return {**vars(row), **times, "links": {"self": path, "renewals": f"{path}/renewals"}}
