"""Job tickets: what stands in a file for ipptool, whatever a class is called."""

from __future__ import annotations

import re
from typing import Any

import pytest

from service.batches.tickets import ipptool_file

TICKET: dict[str, Any] = {
    "operation_attributes": {
        "job-name": "Jug",
        "document-format": "application/pdf",
        "ipp-attribute-fidelity": True,
    },
    "job_attributes": {"media": "na_letter_8.5x11in", "sides": "one-sided"},
}


def named(name: str) -> dict[str, Any]:
    """The ticket of a job with this name."""
    return {**TICKET, "operation_attributes": {**TICKET["operation_attributes"], "job-name": name}}


def test_the_printer_is_asked_with_the_same_attributes_that_are_sent() -> None:
    text = ipptool_file(TICKET)
    assert re.findall(r"OPERATION (\S+)", text) == [
        "Get-Printer-Attributes",
        "Validate-Job",
        "Print-Job",
    ]
    asked, sent = (part.split("STATUS")[0] for part in text.split("OPERATION ")[2:])
    attributes = re.findall(r"ATTR .*", asked)
    assert attributes == re.findall(r"ATTR .*", sent)
    assert 'ATTR keyword media "na_letter_8.5x11in"' in attributes
    assert 'ATTR mimeMediaType document-format "application/pdf"' in attributes
    assert "FILE $filename" in sent
    assert "FILE" not in asked


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("Jug $filename", '"Jug $$filename"'),
        ('a "b" c', '"a \\"b\\" c"'),
        ("ends in \\", '"ends in \\\\"'),
        ("# } 静物", '"# } 静物"'),
    ],
)
def test_a_name_stays_a_name(name: str, written: str) -> None:
    lines = ipptool_file(named(name)).splitlines()
    assert lines.count(f"  ATTR name job-name {written}") == 2
    assert len(lines) == len(ipptool_file(TICKET).splitlines())
