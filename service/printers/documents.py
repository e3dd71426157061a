"""Printers and readings as JSON documents."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Self

from service.http.answers.json_responses import utc_datetime
from service.printers.schemas import PrinterSchema, ReadingsSchema
from worker.layout.measuring.printer_readings import Reading, bars_of, judge
from worker.spec.formats import sheet_format
from worker.store.ledger import PrinterRow

_READINGS = ReadingsSchema()
_PRINTER = PrinterSchema()


@dataclass(frozen=True, kw_only=True)
class Readings:
    """The readings of a test page of a sheet format, in mm; None: not measured."""

    format: str
    across_mm: float | None = None
    down_mm: float | None = None

    @classmethod
    def of(cls, row: PrinterRow) -> Self:
        """The readings stored for a printer."""
        return cls(format=row.sheet_format, across_mm=row.across_mm, down_mm=row.down_mm)


def judged(read: Readings) -> tuple[Reading | None, Reading | None]:
    """The readings across and down, judged against the bars of the test page."""
    bars = bars_of(sheet_format(read.format))
    across = None if read.across_mm is None else judge(read.across_mm, bars.across_mm)
    down = None if read.down_mm is None else judge(read.down_mm, bars.down_mm)
    return across, down


def readings_document(read: Readings) -> dict[str, Any]:
    """Judged readings as a document."""
    across, down = judged(read)
    return dict(_READINGS.dump({"format": read.format, "across": across, "down": down}))


def printer_document(row: PrinterRow) -> dict[str, Any]:
    """A printer as a document."""
    across, down = judged(Readings.of(row))
    document = {
        **vars(row),
        "format": row.sheet_format,
        "across": across,
        "down": down,
        "across_correction": _correction(across),
        "down_correction": _correction(down),
        "created_at": utc_datetime(row.created_at),
        "links": {
            "self": f"/v1/printers/{row.id}",
            "test_page": f"/v1/test-page.pdf?format={row.sheet_format}",
        },
    }
    return dict(_PRINTER.dump(document))


def printers_document(rows: Iterable[PrinterRow], most: int) -> dict[str, Any]:
    """Printers as a document, with the number that one may have."""
    return {"items": [printer_document(row) for row in rows], "most": most}


def _correction(reading: Reading | None) -> float:
    """The correction factor of a reading; 1 where nothing was measured."""
    return 1.0 if reading is None or reading.correction is None else reading.correction
