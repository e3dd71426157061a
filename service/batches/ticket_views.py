"""Job tickets of print runs: for programs as JSON, and for CUPS's ipptool."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.batches.files import check_print_run
from service.batches.schemas import PrintRunQuerySchema, TicketSchema
from service.batches.tickets import ipptool_file, ticket_document
from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.json_responses import json_response
from service.http.documented import ATTACHMENT_HEADERS
from service.http.resources import Resources
from service.runtime.context import get_context, owner_id
from worker.errors import FilesMissing, NotReady, ReferenceGone

blueprint = Resources(
    "tickets", __name__, url_prefix="/v1/batches", description="Job tickets of print runs."
)


@blueprint.get("/<batch_id:batch_id>/print-run/<sheet_format:sheet_format>.ticket.json")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone)
@blueprint.arguments(PrintRunQuerySchema, location="query")
@blueprint.response(200, TicketSchema)
def get_ticket(query: dict[str, Any], batch_id: str, sheet_format: str) -> Response:
    """Tell how a printer must be set for a print run: paper, size, sides, black alone."""
    return json_response(_ticket(batch_id, sheet_format, covers=query["covers"]))


@blueprint.get("/<batch_id:batch_id>/print-run/<sheet_format:sheet_format>.ticket.ipp")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone)
@blueprint.arguments(PrintRunQuerySchema, location="query")
@blueprint.response(200, {"type": "string"}, content_type="text/plain", headers=ATTACHMENT_HEADERS)
def get_ticket_file(query: dict[str, Any], batch_id: str, sheet_format: str) -> Response:
    """The same as a file for ipptool, which sends the print run to a printer."""
    ticket = _ticket(batch_id, sheet_format, covers=query["covers"])
    response = Response(ipptool_file(ticket), content_type="text/plain; charset=utf-8")
    name = f"{ticket['operation_attributes']['job-name']}.ipp"
    response.headers["Content-Disposition"] = content_disposition(name)
    return response


def _ticket(batch_id: str, sheet_format: str, *, covers: bool) -> dict[str, Any]:
    """A print run's ticket.

    Raises:
        NotFound, NotReady, FilesMissing, ReferenceGone: There is no such run, or not now.
    """
    batch = get_context().ledger.batches.get(batch_id, owner_id())
    items = check_print_run(batch, sheet_format)
    group = get_context().ledger.classes.get(batch.row.class_id, owner_id()).name
    title = " · ".join(filter(None, [group, batch.row.title]))
    return ticket_document(batch_id, items, title, covers=covers)
