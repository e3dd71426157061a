"""Printers: the test page, judging its readings, and storing them for later packs."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Any

from flask import Response

from service.access.class_limits import check_open, language_of_print
from service.http.answers.downloads import files
from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.errors import NotAllowed
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources
from service.http.schemas import KeySchema
from service.printers.documents import (
    Readings,
    judged,
    printer_document,
    printers_document,
    readings_document,
)
from service.printers.schemas import (
    NewPrinterSchema,
    PageQuerySchema,
    PrinterChangeSchema,
    PrinterSchema,
    PrintersSchema,
    ReadingsRequestSchema,
    ReadingsSchema,
)
from service.runtime.context import get_context, owner_id, person
from service.runtime.idempotency import idempotent
from worker.errors import (
    ClassClosed,
    FormatUnknown,
    LimitReached,
    NotFound,
    PageFitting,
    ReadingImplausible,
)
from worker.layout.measuring.printer_readings import usable_correction
from worker.pages.calibration.page import test_page_title, write_test_page
from worker.spec.formats import sheet_format
from worker.store.ledger import MOST_PRINTERS, PrinterRow

blueprint = Resources(
    "printers", __name__, url_prefix="/v1/printers", description="Printers that were measured."
)
readings = Resources(
    "readings", __name__, url_prefix="/v1/readings", description="What was read off a test page."
)
test_page = Resources(
    "test-page", __name__, url_prefix="/v1/test-page.pdf", description="A page to measure."
)
_PRINTERS = PagedList[PrinterRow](name="printers", place=lambda row: (row.created_at, row.id))
#: A part of the entity tag; raised when test pages are drawn in another way than before.
_DRAWN_AS = "2"


@test_page.get("")
@test_page.arguments(PageQuerySchema, location="query")
@test_page.sends_file("application/pdf")
def get_test_page(query: dict[str, Any]) -> Response:
    """The test page of a sheet format; print at actual size, and measure."""
    sheet, language = sheet_format(query["format"]), query["language"] or language_of_print()
    tag = files.etag("test-page", sheet.name, language, _DRAWN_AS)
    if files.fresh_in_cache(tag):
        return files.not_modified(tag)
    with get_context().drawing_limit.slot(), ExitStack() as resources:
        path = resources.enter_context(get_context().storage.workspace()) / "test-page.pdf"
        write_test_page(path, sheet, language)
        name = f"{test_page_title(sheet, language)}.pdf"
        return files.send(
            path, resources.pop_all(), name=name, tag=tag, digests=get_context().digests
        )


@readings.post("")
@readings.arguments(ReadingsRequestSchema)
@readings.response(200, ReadingsSchema)
def judge_readings(body: dict[str, Any]) -> Response:
    """Say what readings mean; nothing is stored, and none is refused for its verdict."""
    return json_response(readings_document(Readings(**body)))


@blueprint.get("")
@blueprint.arguments(ListQuerySchema, location="query")
@blueprint.response(200, PrintersSchema, headers=LIST_HEADERS)
def list_printers(query: dict[str, Any]) -> Response:
    """Show one's own printers, and those that are shared with one's classes, oldest first."""
    page = _PRINTERS.page(query)
    found = get_context().ledger.printers.seen(owner_id(), page)
    return _PRINTERS.respond(found, page, lambda rows: printers_document(rows, MOST_PRINTERS))


@blueprint.post("")
@blueprint.refuses(
    PageFitting, ReadingImplausible, FormatUnknown, NotFound, ClassClosed, LimitReached
)
@blueprint.arguments(NewPrinterSchema)
@blueprint.arguments(KeySchema, location="headers")
@blueprint.response(201, PrinterSchema)
def create_printer(body: dict[str, Any], headers: dict[str, Any]) -> Response:
    """Keep what a printer measured; a tutor may share it with a class.

    Readings that mean page fitting, or that cannot be, are refused with their field.
    """
    with idempotent(headers["idempotency_key"], status=201, document=printer_document) as call:
        if call.replayed is not None:
            return call.replayed
        check_open()
        _check_sharing(body)
        row = PrinterRow(owner_id=owner_id(), **_columns(body))
        _check_readings(row)
        return call.respond(get_context().ledger.printers.add(row, MOST_PRINTERS, call.kept_answer))


@blueprint.get("/<printer_id:printer_id>")
@blueprint.response(200, PrinterSchema)
def get_printer(printer_id: str) -> Response:
    """Show a printer of one's own, or one that is shared with one's class."""
    return json_response(
        printer_document(get_context().ledger.printers.get(printer_id, owner_id()))
    )


@blueprint.patch("/<printer_id:printer_id>")
@blueprint.refuses(PageFitting, ReadingImplausible)
@blueprint.arguments(PrinterChangeSchema)
@blueprint.response(200, PrinterSchema)
def update_printer(body: dict[str, Any], printer_id: str) -> Response:
    """Change what is given; what was measured before counts on."""
    _check_own(printer_id)
    _check_sharing(body)
    # A reading that is not given anew may still not fit a new format.
    changed = get_context().ledger.printers.change(
        printer_id, owner_id(), _columns(body), _check_readings
    )
    return json_response(printer_document(changed))


@blueprint.delete("/<printer_id:printer_id>")
@blueprint.response(204)
def delete_printer(printer_id: str) -> Response:
    """Delete a printer; packs that were made for it stay as they are."""
    _check_own(printer_id)
    get_context().ledger.printers.delete(printer_id, owner_id())
    return Response(status=204)


def _columns(body: dict[str, Any]) -> dict[str, Any]:
    """The fields of the body by the names of the ledger's columns."""
    named = dict(body)
    if "format" in named:
        named["sheet_format"] = named.pop("format")
    return named


def _check_readings(row: PrinterRow) -> None:
    """Check that both readings can be used.

    Raises:
        PageFitting, ReadingImplausible: Names the field at fault.
    """
    across, down = judged(Readings.of(row))
    usable_correction(across, "across_mm")
    usable_correction(down, "down_mm")


def _check_sharing(body: dict[str, Any]) -> None:
    """Check that only tutors share printers; the ledger checks that the class is theirs.

    Raises:
        NotAllowed: The person is not a tutor.
    """
    if body.get("class_id") is not None and person().role not in {"tutor", "site"}:
        raise NotAllowed("Only the tutor of a class shares a printer with it.", field="class_id")


def _check_own(printer_id: str) -> None:
    """Check that the person who asks may change a printer.

    Raises:
        NotFound: They do not see it.
        NotAllowed: It is shared with them, but not theirs.
    """
    ledger, who = get_context().ledger, owner_id()
    row = ledger.printers.get(printer_id, who)
    if row.owner_id != who and not ledger.people.sees(who, "student_id", row.owner_id):
        raise NotAllowed("This printer is shared with you: use it, or save one of your own.")
