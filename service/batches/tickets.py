"""Job tickets: how a printer must be set for a print run, in IPP's own words.

A run that is scaled or printed on both sides is waste, and the person in the print room does
not know that. So beside each run stand its attributes by their standard names, as JSON and as
a file for CUPS's ipptool, which also sends the run. The Internet Printing Protocol defines:

- `media`, `sides`, `job-name`, `ipp-attribute-fidelity`: RFC 8011, 5.2 and 4.2.1.1
- the names of `media`: PWG 5101.1
- `print-scaling`: PWG 5100.16
- `print-color-mode`: PWG 5100.13
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from service.batches.documents import batch_path, pages_of
from service.batches.schemas import TicketSchema
from service.http.answers.downloads.safe_names import safe_name
from worker.store.ledger import BatchItem

_TICKET = TicketSchema()
#: Syntaxes of the attributes that are no keywords (RFC 8011).
_SYNTAXES = {
    "job-name": "name",
    "document-format": "mimeMediaType",
    "ipp-attribute-fidelity": "boolean",
}
#: What ipptool is told once, and may be told otherwise by `-d fidelity=false`.
_FIDELITY = "ipp-attribute-fidelity"
_HEAD = """\
# Sends a print run to a printer, set as it must be. With the run saved as run.pdf:
#
#   ipptool -tf run.pdf ipp://PRINTER/ipp/print THIS-FILE
#
# A printer that cannot keep every attribute refuses. With -I -d fidelity=false it prints as it
# can: then measure a sheet before the rest is printed.
DEFINE-DEFAULT fidelity true

{
  NAME "Can it print at actual size?"
  OPERATION Get-Printer-Attributes
  GROUP operation-attributes-tag
  ATTR charset attributes-charset utf-8
  ATTR naturalLanguage attributes-natural-language en
  ATTR uri printer-uri $uri
  ATTR keyword requested-attributes print-scaling-supported
  STATUS successful-ok
  EXPECT ?print-scaling-supported WITH-VALUE "none"
}
"""
_OPERATION = """
{{
  NAME "{name}"
  OPERATION {operation}
  GROUP operation-attributes-tag
  ATTR charset attributes-charset utf-8
  ATTR naturalLanguage attributes-natural-language en
  ATTR uri printer-uri $uri
  ATTR name requesting-user-name $user
{operation_attributes}
  GROUP job-attributes-tag
{job_attributes}
{document}  STATUS successful-ok
}}
"""
#: Where it may print as it can, what it left out is no fault.
_SENT = """\
  FILE $filename
  STATUS successful-ok-ignored-or-substituted-attributes
"""


def ticket_document(
    batch_id: str, items: list[BatchItem], title: str, *, covers: bool
) -> dict[str, Any]:
    """The ticket of a print run.

    Args:
        batch_id: The batch.
        items: The lines of the run, all on one sheet format.
        title: The class's and the batch's name.
        covers: Whether the run has covers.
    """
    sheet_format = str(_spec(items[0])["sheet"]["format"])
    path = f"{batch_path(batch_id)}/print-run/{sheet_format}"
    query = "?covers=true" if covers else ""
    document = {
        "sheet_format": sheet_format,
        "pages": sum(pages_of(item) + 1 + covers for item in items),
        "operation_attributes": {
            "job_name": safe_name(f"{title} {sheet_format}", "packs"),
            "document_format": "application/pdf",
            "ipp_attribute_fidelity": True,
        },
        "job_attributes": {
            "media": sheet_format,
            "sides": "one-sided",
            "print_scaling": "none",
            "print_color_mode": _color_mode(items),
        },
        "links": {
            "print_run": f"{path}.pdf{query}",
            "self": f"{path}.ticket.json{query}",
            "ipptool": f"{path}.ticket.ipp{query}",
        },
    }
    return dict(_TICKET.dump(document))


def _spec(item: BatchItem) -> dict[str, Any]:
    assert item.row.spec is not None  # noqa: S101 -- Lines of a print run have a pack.
    return item.row.spec


def _color_mode(items: list[BatchItem]) -> str:
    """Monochrome, so that greys are printed in black alone, unless a pack is in colour."""
    coloured = any(_spec(item)["tone"]["style"] == "colour" for item in items)
    return "color" if coloured else "monochrome"


def ipptool_file(ticket: Mapping[str, Any]) -> str:
    """A ticket as a file for ipptool (the format is that of CUPS's ipptoolfile(5)).

    The printer is asked first whether it can do all of it, so that no long file is sent to one
    that cannot. It is asked about the size apart, as a printer may accept a `print-scaling`
    that it does not list.
    """
    parts = {
        "operation_attributes": "\n".join(_attributes(ticket["operation_attributes"])),
        "job_attributes": "\n".join(_attributes(ticket["job_attributes"])),
    }
    asked = _OPERATION.format(
        name="Can it keep the rest?", operation="Validate-Job", document="", **parts
    )
    sent = _OPERATION.format(name="Print", operation="Print-Job", document=_SENT, **parts)
    return _HEAD + asked + sent


def _attributes(attributes: Mapping[str, Any]) -> Iterator[str]:
    for name, value in attributes.items():
        told = "$fidelity" if name == _FIDELITY else _quoted(str(value))
        yield f"  ATTR {_SYNTAXES.get(name, 'keyword')} {name} {told}"


def _quoted(text: str) -> str:
    """A text as ipptool reads it; `$` begins the name of a variable."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("$", "$$")
    return f'"{escaped}"'
