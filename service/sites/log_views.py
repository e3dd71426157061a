"""What course sites did, for a site's tutor and for the tutors of a class."""

from __future__ import annotations

from typing import Any

from flask import Response, request

from service.http.json_responses import json_response
from service.http.resources import Resources
from service.runtime.context import get_context, owner_id
from service.sites.documents import line_document
from service.sites.schemas import LogQuerySchema, LogSchema
from worker.store.ledger import LOG_DAYS, LogRow

of_sites = Resources("site-logs", __name__, url_prefix="/v1/sites", description="Logs of sites.")
of_classes = Resources(
    "class-site-logs", __name__, url_prefix="/v1/classes", description="Sites in a class."
)


@of_sites.get("/<site_id:site_id>/log")
@of_sites.arguments(LogQuerySchema, location="query")
@of_sites.response(200, LogSchema)
def get_site_log(query: dict[str, Any], site_id: str) -> Response:
    """Show what a course site did, the newest first: changes, and files that it fetched.

    It names everybody and everything by id alone. `Link` leads to the next page.
    """
    log = get_context().ledger.site_log
    return _page(query, log.of_site(site_id, query["limit"] + 1, _after(query)))


@of_classes.get("/<class_id:class_id>/site-log")
@of_classes.arguments(LogQuerySchema, location="query")
@of_classes.response(200, LogSchema)
def get_class_site_log(query: dict[str, Any], class_id: str) -> Response:
    """Show what course sites did in a class, also sites that have been deleted since."""
    log = get_context().ledger.site_log
    rows = log.of_class(class_id, owner_id(), query["limit"] + 1, _after(query))
    return _page(query, rows)


def _after(query: dict[str, Any]) -> LogRow | None:
    cursor = query["cursor"]
    return None if cursor is None else get_context().ledger.site_log.line(cursor)


def _page(query: dict[str, Any], rows: tuple[LogRow, ...]) -> Response:
    """A page of rows, of which one more was read to know whether there is another page."""
    shown = rows[: query["limit"]]
    further = shown[-1].id if len(rows) > len(shown) else None
    document = {
        "items": [line_document(row) for row in shown],
        "kept_days": LOG_DAYS,
    }
    response = json_response(document)
    if further is not None:
        address = f"{request.path}?limit={query['limit']}&cursor={further}"
        response.headers["Link"] = f'<{address}>; rel="next"'
    return response
