"""Writes what course sites do, and students in their sessions, into the ledger's log of sites.

Lines are written for calls that changed something or fetched a pack's files, not for looking.
They say which call it was and what it was about, by ids alone; `worker.store.ledger.sites.log`
keeps them for a bounded time.
"""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any, Final

from flask import Flask, Response, g, request

from service.access.scopes import FETCHING
from service.http.logs.access_log import EXTERNAL_ID
from service.http.requests.host_guard import SAFE_METHODS
from service.runtime.context import get_context
from worker.errors import RicalcoError
from worker.store.ledger import AccessKey, LogRow, SessionRow, SiteRow

_LOG = logging.getLogger(__name__)
#: They compute something and keep nothing.
_KEEPS_NOTHING: Final = frozenset(
    {
        "plans.create_plan",
        "previews.create_preview",
        "grids.create_grid",
        "grids.create_grid_picture",
        "readings.judge_readings",
        "batches.estimate_batch",
    }
)


def log_sites(app: Flask) -> None:
    """Write a line for each such call; registered after the access rules."""

    @app.before_request
    def note_class() -> None:
        if _is_logged():
            # Asked now: when a thing is deleted, nothing says any more which class had it.
            g.site_log_class = get_context().ledger.site_log.class_of(_ids())

    @app.after_request
    def write(response: Response) -> Response:
        if _is_logged() and response.status_code < HTTPStatus.BAD_REQUEST:
            try:
                _write(response)
            except RicalcoError as error:
                # What was done is done, and must be answered.
                _LOG.warning("A line of a site's log is missing: %s", error)
        return response


def _is_logged() -> bool:
    endpoint = request.endpoint or ""
    acts = g.get("site") is not None or g.get("session") is not None
    changes = request.method not in SAFE_METHODS and endpoint not in _KEEPS_NOTHING
    return acts and (changes or endpoint in FETCHING)


def _write(response: Response) -> None:
    site: SiteRow | None = g.get("site")
    session: SessionRow | None = g.get("session")
    access: AccessKey | None = g.get("access")
    log = get_context().ledger.site_log
    made = _made(response)
    ids = _ids()
    log.add(
        LogRow(
            site_id=site.id if site is not None else session.site_id if session else "",
            key_id=access.id if access is not None else session.key_id if session else None,
            session_id=None if session is None else session.id,
            class_id=g.get("site_log_class") or (log.class_of([made]) if made else None),
            action=(request.endpoint or "").rpartition(".")[2],
            about=made or (ids[0] if ids else None),
        )
    )


def _ids() -> list[str]:
    """The ids in the address, the most particular first."""
    named = (request.view_args or {}).items()
    found = [str(id_) for kind, id_ in named if kind.endswith("_id") and kind != EXTERNAL_ID]
    return found[::-1]


def _made(response: Response) -> str | None:
    """The id of what the call made or changed, as its answer has it."""
    if response.direct_passthrough or not response.is_json:
        return None
    document: Any = response.get_json(silent=True)
    found = document.get("id") if isinstance(document, dict) else None
    return found if isinstance(found, str) else None
