"""What course sites did, for a site's tutor and for the tutors of a class."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.http.documented import LIST_HEADERS
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources
from service.runtime.context import get_context, owner_id
from service.sites.documents import line_document
from service.sites.schemas import LogSchema
from worker.store.ledger import LOG_DAYS, LogRow

of_sites = Resources("site-logs", __name__, url_prefix="/v1/sites", description="Logs of sites.")
of_classes = Resources(
    "class-site-logs", __name__, url_prefix="/v1/classes", description="Sites in a class."
)
_LINES = PagedList[LogRow](name="site-log", place=lambda line: (line.at, line.id), usual=50)


@of_sites.get("/<site_id:site_id>/log")
@of_sites.arguments(ListQuerySchema, location="query")
@of_sites.response(200, LogSchema, headers=LIST_HEADERS)
def get_site_log(query: dict[str, Any], site_id: str) -> Response:
    """Show what a course site did, the newest first: changes, and files that it fetched.

    It names everybody and everything by id alone.
    """
    page = _LINES.page(query)
    found = get_context().ledger.site_log.of_site(site_id, page)
    return _LINES.respond_items(found, page, line_document, kept_days=LOG_DAYS)


@of_classes.get("/<class_id:class_id>/site-log")
@of_classes.arguments(ListQuerySchema, location="query")
@of_classes.response(200, LogSchema, headers=LIST_HEADERS)
def get_class_site_log(query: dict[str, Any], class_id: str) -> Response:
    """Show what course sites did in a class, also sites that have been deleted since."""
    page = _LINES.page(query)
    found = get_context().ledger.site_log.of_class(class_id, owner_id(), page)
    return _LINES.respond_items(found, page, line_document, kept_days=LOG_DAYS)
