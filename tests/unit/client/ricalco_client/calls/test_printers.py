"""The client's printers: requests, answers, and their part of a spec."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable, ReadingRefused
from ricalco_client.values import Printer

PRINTER = {
    "id": "prn_1",
    "name": "Attic",
    "format": "iso_a4_210x297mm",
    "across_correction": 1.004016,
    "down_correction": 1.0,
    "margin_mm": {"top": 3, "right": 4, "bottom": 18, "left": 4},
}


def test_a_printer_is_kept_once(ricalco: Ricalco, service: Any) -> None:
    service.answer(PRINTER, 201)
    wish = {"name": "Attic", "format": "iso_a4_210x297mm", "across_mm": 199.2}
    printer = ricalco.printers.create(wish)
    assert (printer.id, printer.name, printer.document) == ("prn_1", "Attic", PRINTER)
    (sent,) = service.asked
    assert (sent.method, sent.url) == ("POST", "http://ricalco.test/v1/printers")
    assert len(sent.headers["Idempotency-Key"]) >= 24
    assert json.loads(service.bodies[0]) == wish


def test_its_part_of_a_spec_is_what_the_contract_reads() -> None:
    from worker.spec.json import load_spec  # noqa: PLC0415 - the client itself knows no worker.

    support = {"support": {"width_mm": 300, "height_mm": 200}}
    spec = load_spec({**support, **Printer.read(PRINTER).spec})
    assert (spec.print.across_correction, spec.print.printer) == (1.004016, "Attic")
    assert (spec.sheet.format, spec.sheet.margin_mm.bottom) == ("iso_a4_210x297mm", 18)
    bare = load_spec({**support, **Printer.read({**PRINTER, "margin_mm": None}).spec})
    assert bare.sheet.margin_mm.bottom == 5


def test_they_are_listed_changed_and_deleted(ricalco: Ricalco, service: Any) -> None:
    service.answer({"items": [PRINTER]})
    service.answer(PRINTER)
    service.answer(PRINTER)
    service.answer(b"", 204)
    (found,) = ricalco.printers.list()
    assert ricalco.printers.get("prn_1") == found
    ricalco.printers.change("prn_1", {"name": "Attic"})
    ricalco.printers.delete("prn_1")
    methods = [(sent.method, sent.path_url) for sent in service.asked]
    assert methods == [
        ("GET", "/v1/printers"),
        ("GET", "/v1/printers/prn_1"),
        ("PATCH", "/v1/printers/prn_1"),
        ("DELETE", "/v1/printers/prn_1"),
    ]


def test_readings_are_judged(ricalco: Ricalco, service: Any) -> None:
    said = {"format": "iso_a4_210x297mm", "across": {"verdict": "exact"}, "down": None}
    service.answer(said)
    assert ricalco.printers.judge("iso_a4_210x297mm", across_mm=200) == said
    sent = {"format": "iso_a4_210x297mm", "across_mm": 200, "down_mm": None}
    assert json.loads(service.bodies[0]) == sent


def test_page_fitting_is_a_reading_refused(
    ricalco: Ricalco, service: Any, problem: Callable[..., dict[str, Any]]
) -> None:
    told = problem("page-fitting", field="across_mm")
    service.answer(told, 422, Content_Type="application/problem+json")
    with pytest.raises(ReadingRefused) as refused:
        ricalco.printers.create(PRINTER)
    assert refused.value.field == "across_mm"


def test_the_test_page_is_fetched(ricalco: Ricalco, service: Any, tmp_path: Path) -> None:
    service.answer(b"%PDF-1.6")
    path = ricalco.printers.download_test_page("na_letter_8.5x11in", tmp_path / "page.pdf")
    assert path.read_bytes() == b"%PDF-1.6"
    assert service.asked[0].path_url == "/v1/test-page.pdf?format=na_letter_8.5x11in"


@pytest.mark.parametrize("answer", [{"items": [{}]}, {"items": 1}, {}, []])
def test_an_answer_that_lists_no_printers_is_said_so(
    ricalco: Ricalco, service: Any, answer: Any
) -> None:
    service.answer(answer)
    with pytest.raises(AnswerUnreadable):
        ricalco.printers.list()


def test_an_answer_that_is_no_reading_is_said_so(ricalco: Ricalco, service: Any) -> None:
    service.answer([1])
    with pytest.raises(AnswerUnreadable):
        ricalco.printers.judge("iso_a4_210x297mm")
